package sheet

import (
	"slices"

	"github.com/go-text/typesetting/bidi"
	class "golang.org/x/text/unicode/bidi"
)

// visual gives the runs of one direction in the order in which they stand on
// the line: rule L2 of the Unicode bidirectional algorithm (UAX 9). The text
// holds no formatting characters, since clean takes them out, so its levels
// are 0 (left to right), 1 (right to left) and 2 (a number beside or among
// words that run from right to left).
func visual(letters []rune) []bidi.Run {
	var p bidi.Paragraph
	found := p.Segment(letters, bidi.LeftToRight)
	numbers := numbersAmongWords(letters)
	var runs []bidi.Run
	for i := range found.NumRuns() {
		run := found.Run(i)
		if run.Level%2 != 0 {
			runs = append(runs, run)
			continue
		}
		// The library joins neighbours of levels 0 and 2, which have one
		// direction but not one place: they are taken apart again.
		for from := run.Start; from < run.End; {
			to := from + 1
			for to < run.End && numbers[to] == numbers[from] {
				to++
			}
			level := bidi.Level(0)
			if numbers[from] {
				level = 2
			}
			runs = append(runs, bidi.Run{Start: from, End: to, Level: level})
			from = to
		}
	}
	for level := bidi.Level(2); level > 0; level-- {
		for i := 0; i < len(runs); i++ {
			if runs[i].Level < level {
				continue
			}
			end := i
			for end < len(runs) && runs[end].Level >= level {
				end++
			}
			slices.Reverse(runs[i:end])
			i = end
		}
	}
	return runs
}

// numbersAmongWords marks the letters that stay numbers, and so of level 2,
// after rules W1 to W7 of UAX 9: digits after a right-to-left word, Arabic
// digits anywhere, and the signs that belong to them.
func numbersAmongWords(letters []rune) []bool {
	types := make([]class.Class, len(letters))
	before, strong := class.L, class.L
	for i, r := range letters {
		p, _ := class.LookupRune(r)
		t := p.Class()
		switch t {
		case class.NSM: // W1
			t = before
		case class.EN: // W2
			if strong == class.AL {
				t = class.AN
			}
		case class.L, class.R, class.AL:
			strong = t
		}
		types[i], before = t, t
	}
	for i := 1; i+1 < len(types); i++ { // W4
		a, t, b := types[i-1], types[i], types[i+1]
		if a == b && (t == class.CS && (a == class.EN || a == class.AN) || t == class.ES && a == class.EN) {
			types[i] = a
		}
	}
	for i := 1; i < len(types); i++ { // W5, signs behind a number
		if types[i] == class.ET && types[i-1] == class.EN {
			types[i] = class.EN
		}
	}
	for i := len(types) - 2; i >= 0; i-- { // W5, signs before a number
		if types[i] == class.ET && types[i+1] == class.EN {
			types[i] = class.EN
		}
	}
	numbers := make([]bool, len(types))
	strong = class.L
	for i, t := range types { // W7
		switch t {
		case class.L, class.R, class.AL:
			strong = t
		case class.EN:
			numbers[i] = strong != class.L
		case class.AN:
			numbers[i] = true
		}
	}
	return numbers
}
