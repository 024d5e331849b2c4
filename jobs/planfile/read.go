package planfile

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/shopspring/decimal"

	"laneplan/jobs/intake/fault"
)

// MostBytes is the size beyond which no plan file is read.
const MostBytes = 50_000_000

// ReadFile reads a plan file, as Read does.
func ReadFile(path string) (Document, error) {
	data, err := fault.ReadFile(path, MostBytes)
	if err != nil {
		return Document{}, err
	}
	return Read(data, path)
}

// Read reads a plan file; name stands for it in faults. Fields that it does
// not know are passed over, and only the shape is checked: not whether the
// sections meet any demand. Where the file is at fault, the error is a
// fault.List with every fault, its line and its field.
func Read(data []byte, name string) (Document, error) {
	if faults := fault.CheckText(name, data); len(faults) > 0 {
		return Document{}, faults
	}
	var d Document
	if err := json.Unmarshal(data, &d); err != nil {
		return Document{}, fault.List{syntaxFault(name, data, err)}
	}
	c := checker{source: source{name: name, lines: map[string]int{}}}
	c.walk(data)
	c.document(d)
	if err := c.faults.Err(); err != nil {
		return Document{}, err
	}
	d.source = c.source
	return d, nil
}

// syntaxFault puts a line to an error of package json.
func syntaxFault(name string, data []byte, err error) fault.Fault {
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case len(bytes.TrimSpace(data)) == 0:
		return fault.Fault{File: name, Message: "the file is empty"}
	case errors.As(err, &syntax):
		return fault.Fault{File: name, Line: lineAt(data, syntax.Offset), Message: "want JSON: " + err.Error()}
	case errors.As(err, &kind):
		return fault.Fault{File: name, Line: lineAt(data, kind.Offset), Field: kind.Field,
			Message: fmt.Sprintf("want %s, got %s", wanted(kind), kind.Value)}
	}
	return fault.Fault{File: name, Message: err.Error()}
}

func wanted(e *json.UnmarshalTypeError) string {
	switch kind := e.Type.Kind().String(); kind {
	case "int", "int64":
		return "a whole number"
	case "slice":
		return "a list"
	case "struct":
		return "an object"
	case "string":
		return "a string"
	case "bool":
		return "true or false"
	default:
		return kind
	}
}

func lineAt(data []byte, offset int64) int {
	return 1 + bytes.Count(data[:min(max(offset, 0), int64(len(data)))], []byte("\n"))
}

// source is where a document was read.
type source struct {
	name  string
	lines map[string]int // of every field by its path: gangs[0].sections[1].rows
}

// fault puts a file and a line to what is wrong with a field. A field that is
// not there has the line of what should hold it.
func (s source) fault(path, format string, values ...any) fault.Fault {
	line, known := s.lines[path]
	for outer := path; !known && outer != ""; {
		outer = outer[:max(strings.LastIndexAny(outer, ".["), 0)]
		line, known = s.lines[outer]
	}
	return fault.Fault{File: s.name, Line: line, Field: path, Message: fmt.Sprintf(format, values...)}
}

// checker gathers what is wrong with the shape of a document.
type checker struct {
	source
	faults fault.List
}

func (c *checker) fault(path, format string, values ...any) {
	c.faults.Add(c.source.fault(path, format, values...))
}

func (c *checker) document(d Document) {
	if d.Format != Format {
		c.fault("laneplan", "want %d, the number of this format, got %d", Format, d.Format)
		return
	}
	if len(d.Gangs) == 0 {
		c.fault("gangs", "want at least one gang")
	}
	ids := map[string]bool{}
	for i, g := range d.Gangs {
		path := fmt.Sprintf("gangs[%d]", i)
		if ids[g.ID] {
			c.fault(path+".id", "%q is there twice", g.ID)
		}
		ids[g.ID] = true
		c.gang(path, g)
	}
}

func (c *checker) gang(path string, g Gang) {
	if g.Lanes < 1 {
		c.fault(path+".lanes", "want a whole number from 1, got %d", g.Lanes)
		return
	}
	if len(g.Sections) == 0 {
		c.fault(path+".sections", "want at least one section")
	}
	for i, s := range g.Sections {
		section := fmt.Sprintf("%s.sections[%d]", path, i)
		if s.Rows < 1 {
			c.fault(section+".rows", "want a whole number from 1, got %d", s.Rows)
		}
		if s.Number != i+1 {
			c.fault(section+".number", "want %d (sections stand in the order in which they run), got %d", i+1, s.Number)
		}
		if len(s.Lanes) != g.Lanes {
			c.fault(section+".lanes", "want %d entries, one a lane (null for an empty one), got %d", g.Lanes, len(s.Lanes))
		}
		for j, id := range s.Lanes {
			if id != nil && *id == "" {
				c.fault(fmt.Sprintf("%s.lanes[%d]", section, j), "want a version's id or null")
			}
		}
		before := 0
		for j, row := range s.SplicesAfter {
			if row <= before || row >= s.Rows {
				c.fault(fmt.Sprintf("%s.splices_after_rows[%d]", section, j), "want rows in rising order from 1 to %d, got %d", s.Rows-1, row)
			}
			before = row
		}
	}
}

// walk notes the line of every field and refuses a key that is there twice.
// The data is known to be one valid JSON value, so no token fails.
func (c *checker) walk(data []byte) {
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	line, counted := 1, int64(0)
	next := func() json.Token {
		token, err := d.Token()
		if err != nil {
			return nil
		}
		offset := d.InputOffset()
		line += bytes.Count(data[counted:offset], []byte("\n"))
		counted = offset
		return token
	}
	var value func(path string)
	value = func(path string) {
		token := next()
		if _, known := c.lines[path]; !known {
			c.lines[path] = line
		}
		if n, ok := token.(json.Number); ok && !sane(n) {
			c.fault(path, "want a number with at most 30 digits and no large exponent, got %.40s", n)
		}
		switch token {
		case json.Delim('{'):
			for d.More() {
				key, _ := next().(string)
				inner := key
				if path != "" {
					inner = path + "." + key
				}
				if _, twice := c.lines[inner]; twice {
					c.lines[inner] = line
					c.fault(inner, "is there twice")
				}
				c.lines[inner] = line
				value(inner)
			}
			next()
		case json.Delim('['):
			for i := 0; d.More(); i++ {
				value(path + "[" + strconv.Itoa(i) + "]")
			}
			next()
		}
	}
	value("")
}

// sane keeps numbers out whose exponent alone would cost hours of arithmetic.
func sane(n json.Number) bool {
	d, err := decimal.NewFromString(n.String())
	return err == nil && d.NumDigits() <= 30 && d.Exponent() >= -30 && d.Exponent() <= 30
}
