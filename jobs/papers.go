package jobs

// Papers say how the documents for the floor are made. The zero value is A4
// in millimetres with one roll tag of 100 mm × 60 mm to a page.
type Papers struct {
	Inches bool // lengths in inches and feet instead of millimetres and metres
	Letter bool // US letter instead of A4
	Tags   TagSheet
}

// TagSheet is the sheet of self-adhesive labels on which roll tags are
// printed. Without a Width and Height a tag is 100 mm × 60 mm; without Columns
// and Rows every tag has a page of its own size.
type TagSheet struct {
	Width, Height  Length // of one tag
	Columns, Rows  int    // of tags on the sheet of paper
	Left, Top      Length // from the sheet's corner to the first tag
	GapAcross, Gap Length // between columns, between rows
}
