package pool

import (
	"fmt"
	"slices"
	"strings"
)

// rule is one thing that must match, in the order in which a scheduler looks
// at them.
type rule struct {
	of  func(key) string
	why func(one part, others string) string
}

var rules = []rule{
	{func(k key) string { return k.shape }, func(one part, _ string) string {
		return "no other order is for die " + one.lines[0].Die
	}},
	{func(k key) string { return k.stock }, func(one part, others string) string {
		return fmt.Sprintf("the others for its die are on stock %s, this one on %s", others, one.stock)
	}},
	{func(k key) string { return orNone(k.finishes, "none") }, func(one part, others string) string {
		return fmt.Sprintf("the others for its die and stock have finish %s, this one %s", others, orNone(one.finishes, "none"))
	}},
	{func(k key) string { return orNone(k.inkSet, "standard") }, func(one part, others string) string {
		return fmt.Sprintf("the others for its set-up are in ink set %s, this one in %s", others, orNone(one.inkSet, "standard"))
	}},
	{func(k key) string { return orNone(k.flags, "no special use") }, func(one part, others string) string {
		return fmt.Sprintf("the others for its set-up are for %s, this one for %s: such work is not mixed", others, orNone(one.flags, "no special use"))
	}},
	{func(k key) string { return string(k.axis) }, func(one part, _ string) string {
		return fmt.Sprintf("its copies leave the roll %s, those of the others for its set-up do not: they would stand at right angles", one.axis)
	}},
}

// company knows, for every part, with whom it has what in common.
type company struct {
	// same counts parts that agree in the first rules, from 0 to all.
	same map[string]int
	// values are those of the next rule, a few of each.
	values map[string][]string
}

// someValues are shown in a reason.
const someValues = 3

func companyOf(parts []part) company {
	c := company{map[string]int{}, map[string][]string{}}
	for _, one := range parts {
		prefix := ""
		for _, r := range rules {
			value := r.of(one.key)
			if known := c.values[prefix]; len(known) <= someValues+1 && !slices.Contains(known, value) {
				c.values[prefix] = append(known, value)
			}
			prefix += "\x00" + value
			c.same[prefix]++
		}
	}
	return c
}

// why finds the one rule that keeps a part from all others: the first one
// after which nobody is left.
func (c company) why(one part) string {
	prefix := ""
	for _, r := range rules {
		others := slices.DeleteFunc(slices.Clone(c.values[prefix]), func(v string) bool { return v == r.of(one.key) })
		prefix += "\x00" + r.of(one.key)
		if c.same[prefix] > 1 {
			continue
		}
		if len(others) > someValues {
			others = append(others[:someValues], "others")
		}
		if len(others) == 0 {
			return "no other order in the book"
		}
		return r.why(one, strings.Join(others, ", "))
	}
	return "the others for its set-up are left out, fill their gangs or need another rewinder"
}

func orNone(value, none string) string {
	if value == "" {
		return none
	}
	return value
}
