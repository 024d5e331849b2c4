package report

import "strings"

// Thousands separates groups of three digits: a narrow no-break space, since
// a comma or a point means something else in the next country.
const Thousands = "\u202f"

// Grouped parts the digits of a number before its decimal point, from five
// digits on, by Thousands.
func Grouped(number string) string {
	whole, rest, _ := strings.Cut(number, ".")
	if rest != "" {
		rest = "." + rest
	}
	sign := ""
	if strings.HasPrefix(whole, "-") {
		sign, whole = "-", whole[1:]
	}
	if len(whole) < 5 {
		return sign + whole + rest
	}
	var b strings.Builder
	for i, digit := range whole {
		if i > 0 && (len(whole)-i)%3 == 0 {
			b.WriteString(Thousands)
		}
		b.WriteRune(digit)
	}
	return sign + b.String() + rest
}
