package sheet

import (
	"bytes"
	"fmt"
	"strings"
	"sync"
	"unicode"

	"github.com/go-text/typesetting/font"
	"github.com/go-text/typesetting/harfbuzz"
	"github.com/go-text/typesetting/language"
	"golang.org/x/text/unicode/norm"

	"laneplan/jobs/ticket/fonts"
)

// The faces of a document, by the names that it knows them by.
const (
	regular  = "regular"
	bold     = "bold"
	fallback = "fallback"
)

// run is text in one face, in the order in which it is drawn.
type run struct{ face, text string }

// face is a font with what is needed to know which characters it has and how
// Arabic letters join.
type face struct {
	data   []byte
	parsed *font.Face
	shaper *harfbuzz.Font
	// letters turns a glyph back into a character, since a document is
	// written in characters: the joined forms of Arabic have their own.
	letters map[font.GID]rune
}

var faces = sync.OnceValue(func() map[string]*face {
	all := map[string]*face{}
	for name, data := range map[string][]byte{regular: fonts.Regular, bold: fonts.Bold, fallback: fonts.Fallback} {
		parsed, err := font.ParseTTF(bytes.NewReader(data))
		if err != nil {
			panic(fmt.Sprintf("embedded font %s: %v", name, err)) // our own fault: it is part of the programme
		}
		f := &face{data: data, parsed: parsed, shaper: harfbuzz.NewFont(parsed), letters: map[font.GID]rune{}}
		for chars := parsed.Cmap.Iter(); chars.Next(); {
			if r, glyph := chars.Char(); r <= lastPlane0 {
				if before, known := f.letters[glyph]; !known || r < before {
					f.letters[glyph] = r
				}
			}
		}
		all[name] = f
	}
	return all
})

// lastPlane0 is the last character that the PDF library can write.
const lastPlane0 = 0xFFFF

func (f *face) has(r rune) bool {
	if r > lastPlane0 {
		return false
	}
	_, ok := f.parsed.Font.NominalGlyph(r) // a Font may be used by several goroutines, a Face not
	return ok
}

// shape turns text into runs as they stand on the line from left to right:
// composed, with right-to-left scripts reordered and their letters joined. A
// character that no font has becomes its code point in brackets, such as
// [U+1F600], and missing is true.
func shape(text string, heavy bool) (runs []run, missing bool) {
	text = clean(text)
	main := regular
	if heavy {
		main = bold
	}
	if plain(text) {
		return []run{{main, text}}, false
	}
	letters := []rune(text)
	for _, part := range visual(letters) {
		piece := letters[part.Start:part.End]
		leftward := !part.IsLeftToRight()
		if leftward {
			piece = joined(piece, main)
		}
		for _, r := range piece {
			name, out := main, string(r)
			switch {
			case faces()[main].has(r):
			case faces()[regular].has(r):
				name = regular
			case faces()[fallback].has(r):
				name = fallback
			default:
				missing = true
				out = fmt.Sprintf("[U+%04X]", r)
			}
			if last := len(runs) - 1; last >= 0 && runs[last].face == name {
				runs[last].text += out
			} else {
				runs = append(runs, run{name, out})
			}
		}
	}
	return runs, missing
}

// clean composes accents, turns line breaks and tabs into spaces and drops
// what has no shape of its own.
func clean(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t' || r == '\n' || r == '\r' || r == '\u2028' || r == '\u2029':
			return ' '
		case unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || unicode.Is(unicode.Variation_Selector, r):
			return -1
		}
		return r
	}, norm.NFC.String(strings.ToValidUTF8(text, "\uFFFD")))
}

// plain says that a text is Latin-1, which every face has.
func plain(text string) bool {
	for _, r := range text {
		if r > 0xFF {
			return false
		}
	}
	return true
}

// joined turns a right-to-left stretch into the characters to draw from left
// to right, joined where a face has joined forms as characters.
func joined(letters []rune, main string) []rune {
	f := faces()[main]
	backwards := make([]rune, len(letters))
	known := true
	for i, r := range letters {
		backwards[len(letters)-1-i] = r
		known = known && f.has(r)
	}
	if !known {
		return backwards
	}
	buffer := harfbuzz.NewBuffer()
	buffer.AddRunes(letters, 0, -1)
	buffer.Props.Direction = harfbuzz.RightToLeft
	buffer.Props.Script = language.LookupScript(firstLetter(letters))
	shapeMutex.Lock()
	buffer.Shape(f.shaper, nil)
	shapeMutex.Unlock()
	out := make([]rune, 0, len(buffer.Info))
	for _, glyph := range buffer.Info {
		r, ok := f.letters[glyph.Glyph]
		if !ok {
			return backwards
		}
		out = append(out, r)
	}
	return out
}

// shapeMutex keeps two documents from using one shaper at a time.
var shapeMutex sync.Mutex

func firstLetter(letters []rune) rune {
	for _, r := range letters {
		if unicode.IsLetter(r) {
			return r
		}
	}
	return letters[0]
}
