package ticket

import (
	"slices"
	"strings"
)

// cautions are the usual ones of the trade (common practice; compare OSHA
// 29 CFR 1910.147, HSE 'Rewinding paper safely', HSE COSHH essentials P7), in
// our own words. They do not clear a machine to run.
var cautions = []string{
	"Rollers draw hands in: keep hands, hair, sleeves and gloves away from running nips, guards shut, and thread only as the manual says.",
	"Slitting knives cut at rest too: wear cut-resistant gloves, never feel an edge, never catch a falling blade.",
	"Lock out and tag out before clearing a jam and before changing knives or a die, unless a competent person has said otherwise.",
	"Uncured UV ink irritates and can sensitise the skin for life: gloves and eye protection, lamp covers shut, extraction on.",
}

// reminders end every list of cautions.
const reminders = "These are reminders: the machine's manual, local codes and qualified people go before them."

// atThePress and atTheRewinder are the cautions that each sheet shows.
func atThePress() []string    { return append(slices.Clone(cautions), reminders) }
func atTheRewinder() []string { return append(slices.Clone(cautions[:3]), reminders) }

// flagWords say what a flag asks of the people at the press.
var flagWords = map[string]string{
	"food":   "FOOD: ink, adhesive and varnish have to be the ones approved for food packaging.",
	"pharma": "PHARMA: reconcile every label and keep the lanes of each version apart.",
	"toy":    "TOY: ink, adhesive and varnish have to be the ones approved for toys.",
}

const flagEnd = "Do not change a material on the way; a qualified person decides."

// flagWarning joins the warnings of a gang's flags; empty where it has none.
func (j Job) flagWarning() string {
	var words []string
	flags := j.flags()
	slices.Sort(flags)
	for _, f := range flags {
		if text, known := flagWords[f]; known {
			words = append(words, text)
		} else {
			words = append(words, strings.ToUpper(f)+".")
		}
	}
	if len(words) == 0 {
		return ""
	}
	return strings.Join(append(words, flagEnd), " ")
}

// firstArticle explains the boxes of the run sheet (common practice, no
// source).
var firstArticle = []string{
	"Every lane is another label, so a good sample of one lane says nothing about the next: check all of them and keep a signed sample of each.",
	"Art: the right artwork for this lane. Reg.: print to print and print to die. Colour: to the approved sample. Cut: clean, liner not cut into. Code: scans, and verified where the order asks for it.",
	"Wind a short roll by hand as well: copy position, core and count have to be as on the rewind sheet.",
	"Check again, every lane, after each changeover, each splice and each stop: not on the first frames that come, which are not in register yet.",
}
