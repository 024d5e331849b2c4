package rewind

import (
	"fmt"
	"hash/crc32"
	"strings"
)

// longestGangKey keeps a roll key short enough for a bar code on a small tag.
const longestGangKey = 16

// rollKey of roll number of the version'th version of a gang, both from 1:
// GANG-01-001. A gang's id that had to be changed to fit carries a check of
// the whole id, so that two ids still make two keys.
func rollKey(gang string, version, number int) string {
	var b strings.Builder
	for _, r := range gang {
		switch {
		case r >= 'A' && r <= 'Z', r >= 'a' && r <= 'z', r >= '0' && r <= '9', r == '-':
			b.WriteRune(r)
		}
	}
	name := b.String()
	if name == "" || name != gang || len(name) > longestGangKey {
		check := fmt.Sprintf("%08X", crc32.ChecksumIEEE([]byte(gang)))[:6]
		name = strings.Trim(name[:min(len(name), longestGangKey-len(check)-1)]+"-"+check, "-")
	}
	return fmt.Sprintf("%s-%02d-%03d", name, version, number)
}
