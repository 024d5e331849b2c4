package ticket

import (
	"fmt"

	"laneplan/jobs"
	"laneplan/jobs/rewind"
)

// The tag where the shop states none, and the smallest that holds what a tag
// has to say.
var (
	usualTag    = jobs.TagSheet{Width: 100 * jobs.Millimetre, Height: 60 * jobs.Millimetre}
	smallestTag = jobs.TagSheet{Width: 60 * jobs.Millimetre, Height: 38 * jobs.Millimetre}
)

// tagsOf the papers, with the usual size where none is stated.
func tagsOf(p jobs.Papers) jobs.TagSheet {
	t := p.Tags
	if t.Width == 0 && t.Height == 0 {
		t.Width, t.Height = usualTag.Width, usualTag.Height
	}
	return t
}

// checkPapers refuses a sheet of tags that cannot be printed.
func checkPapers(p jobs.Papers) error {
	if err := checkTags(p); err != nil {
		return &rewind.Refusal{Path: "papers.tags", Err: err}
	}
	return nil
}

func checkTags(p jobs.Papers) error {
	t := tagsOf(p)
	if t.Width < smallestTag.Width || t.Height < smallestTag.Height {
		return fmt.Errorf("roll tags of %s × %s: too small for what a tag says, want at least %s × %s",
			t.Width, t.Height, smallestTag.Width, smallestTag.Height)
	}
	if (t.Columns == 0) != (t.Rows == 0) {
		return fmt.Errorf("roll tags: %d columns and %d rows, want both, or neither for one tag to a page", t.Columns, t.Rows)
	}
	if t.Columns < 0 || t.Rows < 0 || t.Left < 0 || t.Top < 0 || t.GapAcross < 0 || t.Gap < 0 {
		return fmt.Errorf("roll tags: a margin, gap or number of tags is negative")
	}
	if t.Columns == 0 {
		return nil
	}
	paper, name := paperOf(p), "A4"
	if p.Letter {
		name = "Letter"
	}
	across := t.Left + jobs.Length(t.Columns)*t.Width + jobs.Length(t.Columns-1)*t.GapAcross
	down := t.Top + jobs.Length(t.Rows)*t.Height + jobs.Length(t.Rows-1)*t.Gap
	if inMM(across) > paper.Width || inMM(down) > paper.Height {
		return fmt.Errorf("roll tags: %d × %d tags of %s × %s take %s × %s, and a page of %s has %g mm × %g mm",
			t.Columns, t.Rows, t.Width, t.Height, across, down, name, paper.Width, paper.Height)
	}
	return nil
}

// inMM is for drawing.
func inMM(l jobs.Length) float64 { return float64(l) / float64(jobs.Millimetre) }
