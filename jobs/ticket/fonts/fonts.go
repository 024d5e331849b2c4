// Package fonts carries the open fonts that documents are set in: DejaVu Sans
// Condensed (from its Go module) for Latin, Greek, Cyrillic, Hebrew and Arabic,
// and Droid Sans Fallback (Copyright 2006-2010 Google Corp., Apache licence
// 2.0, text in LICENSE, file as in Debian's package fonts-droid-fallback) for
// Chinese and Japanese. Of Korean it has a few syllables only.
package fonts

import (
	_ "embed"

	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-fonts/dejavu/dejavusanscondensedbold"
)

//go:embed DroidSansFallbackFull.ttf
var fallback []byte

// The fonts as TrueType.
var (
	Regular  = dejavusanscondensed.TTF
	Bold     = dejavusanscondensedbold.TTF
	Fallback = fallback
)
