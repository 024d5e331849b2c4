package orderbook

import (
	"archive/zip"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"

	"laneplan/jobs/intake/scalar"
)

// Bounds of a workbook, which is a zip archive. The size that a part states
// can be relied on, since archive/zip reads no more than that; its directory
// takes up to eight times its size in memory, so the archive is bounded too.
const (
	mostPackedBytes = 48 << 20
	mostParts       = 2000
	mostPartBytes   = 32 << 20 // of a part that is held in memory
	mostSharedBytes = 64 << 20 // of the shared texts
)

// workbook is what a workbook says about itself. The library that writes ours
// reads others' too, but takes twice as long for their rows and stops without a word
// where a sheet is damaged; the parts of a workbook are few and plain.
type workbook struct {
	parts    map[string]*zip.File // by name in lower case
	sheets   []worksheet
	shared   string // part with the shared texts; "" where there are none
	date1904 bool   // days count from 1904
}

// worksheet is a sheet that is not hidden and holds cells.
type worksheet struct{ name, part string }

// openWorkbook refuses a zip bomb before anything is unpacked.
func openWorkbook(archive []*zip.File) (workbook, error) {
	w := workbook{parts: map[string]*zip.File{}}
	if len(archive) > mostParts {
		return w, fmt.Errorf("want at most %d parts in a workbook, got %d", mostParts, len(archive))
	}
	var total uint64
	for _, part := range archive {
		if total += part.UncompressedSize64; part.UncompressedSize64 > MostFileBytes || total > MostFileBytes {
			return w, fmt.Errorf("want at most %d MB when the workbook is unpacked, got more", MostFileBytes>>20)
		}
		w.parts[strings.ToLower(part.Name)] = part
	}
	top, err := w.relations("")
	if err != nil {
		return w, err
	}
	main := ""
	for _, r := range top {
		if r.is("officeDocument") {
			main = r.target
		}
	}
	var content struct {
		Properties struct {
			Date1904 string `xml:"date1904,attr"`
		} `xml:"workbookPr"`
		Sheets []struct {
			Name  string `xml:"name,attr"`
			State string `xml:"state,attr"`
			ID    string `xml:"id,attr"` // of a relation
		} `xml:"sheets>sheet"`
	}
	if err := w.decode(main, &content); err != nil {
		return w, err
	}
	w.date1904 = content.Properties.Date1904 == "1" || content.Properties.Date1904 == "true"
	inside, err := w.relations(main)
	if err != nil {
		return w, err
	}
	for _, r := range inside {
		if r.is("sharedStrings") {
			w.shared = r.target
		}
	}
	for _, sheet := range content.Sheets {
		if r := inside[sheet.ID]; r.is("worksheet") && (sheet.State == "" || sheet.State == "visible") {
			w.sheets = append(w.sheets, worksheet{sheet.Name, r.target})
		}
	}
	return w, nil
}

// relation of one part to another.
type relation struct{ kind, target string }

// is tells the kind of a relation by its last word: what stands before it has
// two forms.
func (r relation) is(kind string) bool { return strings.HasSuffix(r.kind, "/"+kind) }

// relations of a part by their ids; of the archive itself where part is empty.
func (w *workbook) relations(part string) (map[string]relation, error) {
	var content struct {
		All []struct {
			ID     string `xml:"Id,attr"`
			Type   string `xml:"Type,attr"`
			Target string `xml:"Target,attr"`
		} `xml:"Relationship"`
	}
	folder, name := path.Split(part)
	if err := w.decode(folder+"_rels/"+name+".rels", &content); err != nil {
		return nil, err
	}
	all := map[string]relation{}
	for _, r := range content.All {
		target := strings.ReplaceAll(r.Target, `\`, "/")
		if !strings.HasPrefix(target, "/") {
			target = folder + target
		}
		all[r.ID] = relation{r.Type, strings.TrimPrefix(path.Clean(target), "/")}
	}
	return all, nil
}

// decode reads a small part as a whole.
func (w *workbook) decode(part string, into any) error {
	from, err := w.open(part, mostPartBytes)
	if err != nil {
		return err
	}
	defer from.Close()
	if err := xml.NewDecoder(from).Decode(into); err != nil {
		return fmt.Errorf("the workbook is damaged: part %s: %w", scalar.Quote(part), err)
	}
	return nil
}

func (w *workbook) open(part string, most uint64) (io.ReadCloser, error) {
	file := w.parts[strings.ToLower(part)]
	switch {
	case file == nil:
		return nil, errors.New("want a workbook (.xlsx), got an archive without its part " + scalar.Quote(part))
	case file.UncompressedSize64 > most:
		return nil, fmt.Errorf("want at most %d MB in part %s of the workbook, got %d", most>>20, scalar.Quote(file.Name), file.UncompressedSize64>>20)
	}
	return file.Open()
}
