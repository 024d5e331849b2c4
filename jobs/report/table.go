package report

import (
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"
)

// columns is a table that is filled cell by cell, drawn by go-pretty.
type columns struct {
	heading table.Row
	configs []table.ColumnConfig
	row     table.Row
	writer  table.Writer
	footer  bool // the next row is a sum below a rule
}

func newTable() *columns { return &columns{writer: table.NewWriter()} }

func (c *columns) left(heading string)  { c.column(heading, text.AlignLeft) }
func (c *columns) right(heading string) { c.column(heading, text.AlignRight) }

func (c *columns) column(heading string, align text.Align) {
	c.heading = append(c.heading, heading)
	c.configs = append(c.configs, table.ColumnConfig{
		Number: len(c.heading), Align: align, AlignHeader: align, AlignFooter: align,
	})
}

func (c *columns) cell(text string) { c.row = append(c.row, text) }

func (c *columns) end() {
	if c.footer {
		c.writer.AppendFooter(c.row)
	} else {
		c.writer.AppendRow(c.row)
	}
	c.row = nil
}

// String draws the table in plain characters, indented, without a frame.
func (c *columns) String() string {
	style := table.StyleDefault
	style.Options = table.Options{SeparateFooter: true, SeparateHeader: true}
	style.Format = table.FormatOptions{} // headings as they are written
	style.Box.PaddingLeft, style.Box.PaddingRight = "  ", ""
	style.Box.MiddleSeparator, style.Box.LeftSeparator = "-", "-"
	c.writer.SetStyle(style)
	c.writer.SetColumnConfigs(c.configs)
	c.writer.SuppressTrailingSpaces()
	for _, heading := range c.heading {
		if heading != "" {
			c.writer.AppendHeader(c.heading)
			break
		}
	}
	return strings.TrimRight(c.writer.Render(), "\n")
}
