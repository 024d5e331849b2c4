package orderbook

import (
	"bufio"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
)

// Bounds of a sheet: those of the format, and how much one row or one shared
// text may take.
const (
	mostSheetRows    = 1 << 20
	mostSheetColumns = 1 << 14
	mostRowBytes     = 8 << 20
)

// sheetReader reads the rows of a sheet one after another. It goes through the
// bare tokens: resolving name spaces and filling structs would take most of
// the time. Formulas, formats and the readings of Japanese texts are passed
// over.
type sheetReader struct {
	xml     *xml.Decoder
	bounded *boundedReader
	shared  *texts
	row     int
	width   int // of the widest row so far
	inside  bool
	value   []byte
}

func newSheetReader(from io.Reader, shared *texts) *sheetReader {
	decoder, bounded := boundedXML(from)
	return &sheetReader{xml: decoder, bounded: bounded, shared: shared}
}

// boundedXML reads XML of which a row or a text may not be longer than the
// bounds allow.
func boundedXML(from io.Reader) (*xml.Decoder, *boundedReader) {
	bounded := &boundedReader{from: from, allow: mostRowBytes}
	return xml.NewDecoder(bufio.NewReaderSize(bounded, 32<<10)), bounded
}

// next reads the next row: its number, from 1, and its cells. After the last
// one the error is io.EOF.
func (s *sheetReader) next() (int, []string, error) {
	for {
		token, err := s.token()
		if err != nil {
			return 0, nil, err
		}
		switch t := token.(type) {
		case xml.StartElement:
			s.inside = s.inside || t.Name.Local == "sheetData"
			if s.inside && t.Name.Local == "row" {
				s.bounded.allow = s.xml.InputOffset() + mostRowBytes
				if err := s.number(t); err != nil {
					return 0, nil, err
				}
				cells, err := s.cells()
				return s.row, cells, err
			}
		case xml.EndElement:
			if t.Name.Local == "sheetData" {
				return 0, nil, io.EOF
			}
		}
	}
}

// token is the next one; the end of the text before that of the rows is an
// error.
func (s *sheetReader) token() (xml.Token, error) {
	token, err := s.xml.RawToken()
	if err == io.EOF {
		err = errors.New("it ends in the middle")
	}
	return token, err
}

// number counts the row on, or up to the number that it states.
func (s *sheetReader) number(row xml.StartElement) error {
	next := s.row + 1
	if stated := attribute(row, "r"); stated != "" {
		number, err := strconv.Atoi(stated)
		if err != nil || number < next {
			return fmt.Errorf("want a row number above %d, got %s", s.row, stated)
		}
		next = number
	}
	if next > mostSheetRows {
		return fmt.Errorf("want at most %d rows in a sheet, got row %d", mostSheetRows, next)
	}
	s.row = next
	return nil
}

// cells reads up to the end of the row.
func (s *sheetReader) cells() ([]string, error) {
	cells := make([]string, 0, s.width)
	at, kind, holder := -1, "", ""
	take, reading := false, 0
	for {
		token, err := s.token()
		if err != nil {
			return nil, err
		}
		switch t := token.(type) {
		case xml.StartElement:
			switch t.Name.Local {
			case "c":
				if at, err = columnOf(t, at); err != nil {
					return nil, err
				}
				kind, holder, s.value = attribute(t, "t"), "v", s.value[:0]
				if kind == "inlineStr" {
					holder = "t"
				}
			case "rPh":
				reading++
			case holder:
				take = reading == 0
			}
		case xml.CharData:
			if take {
				s.value = append(s.value, t...)
			}
		case xml.EndElement:
			switch t.Name.Local {
			case "c":
				if len(s.value) > 0 {
					for len(cells) < at {
						cells = append(cells, "")
					}
					value, err := s.text(kind)
					if err != nil {
						return nil, err
					}
					cells = append(cells, value)
				}
				holder = ""
			case "rPh":
				reading--
			case "row":
				s.width = max(s.width, len(cells))
				return cells, nil
			}
			take = false
		}
	}
}

// text is the value of a cell of some kind: numbers as they are stored.
func (s *sheetReader) text(kind string) (string, error) {
	switch kind {
	case "s":
		number, err := strconv.Atoi(strings.TrimSpace(string(s.value)))
		if err != nil || number < 0 || number >= len(s.shared.ends) {
			return "", fmt.Errorf("want one of %d shared texts, got %q", len(s.shared.ends), s.value)
		}
		return s.shared.at(number), nil
	case "str", "inlineStr":
		return unescaped(string(s.value)), nil
	}
	return string(s.value), nil
}

// columnOf is the place of a cell, from 0: the one that it states, or the next.
func columnOf(cell xml.StartElement, last int) (int, error) {
	at := last + 1
	if place := attribute(cell, "r"); place != "" {
		letters := 0
		at = 0
		for letters < len(place) && place[letters] >= 'A' && place[letters] <= 'Z' && letters < 4 {
			at = at*26 + int(place[letters]-'A') + 1
			letters++
		}
		if at--; at <= last || letters > 3 {
			return 0, fmt.Errorf("want cells from left to right, up to column XFD, got cell %q", place)
		}
	}
	if at >= mostSheetColumns {
		return 0, fmt.Errorf("want at most %d columns in a sheet, got more", mostSheetColumns)
	}
	return at, nil
}

func attribute(of xml.StartElement, name string) string {
	for _, a := range of.Attr {
		if a.Name.Local == name && a.Name.Space == "" {
			return a.Value
		}
	}
	return ""
}

var escapes = regexp.MustCompile(`_x[0-9A-Fa-f]{4}_`)

// unescaped undoes how a workbook writes characters that XML does not have:
// _x000D_ is a carriage return, _x005F_ the underline itself.
func unescaped(value string) string {
	if !strings.Contains(value, "_x") {
		return value
	}
	return escapes.ReplaceAllStringFunc(value, func(escape string) string {
		code, _ := strconv.ParseUint(escape[2:6], 16, 16)
		return string(rune(code))
	})
}

// texts are the shared texts of a workbook: one after another in one string,
// so that a million of them are no burden, and where each ends.
type texts struct {
	all  string
	ends []uint32
}

func (t *texts) at(i int) string {
	begin := uint32(0)
	if i > 0 {
		begin = t.ends[i-1]
	}
	return t.all[begin:t.ends[i]]
}

// readTexts reads the part with the shared texts.
func readTexts(from io.Reader) (*texts, error) {
	decoder, bounded := boundedXML(from)
	var all, one []byte
	shared := &texts{}
	take, reading := false, 0
	for {
		token, err := decoder.RawToken()
		if err == io.EOF {
			return nil, errors.New("the shared texts end in the middle")
		}
		if err != nil {
			return nil, err
		}
		switch t := token.(type) {
		case xml.StartElement:
			switch t.Name.Local {
			case "si":
				bounded.allow, one = decoder.InputOffset()+mostRowBytes, one[:0]
			case "rPh":
				reading++
			case "t":
				take = reading == 0
			}
		case xml.CharData:
			if take {
				one = append(one, t...)
			}
		case xml.EndElement:
			take = false
			switch t.Name.Local {
			case "si":
				all = append(all, unescaped(string(one))...)
				shared.ends = append(shared.ends, uint32(len(all)))
			case "rPh":
				reading--
			case "sst":
				shared.all = string(all)
				return shared, nil
			}
		}
	}
}
