package sheet

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// What stands on the line from left to right, worked out by hand by UAX 9 with
// Hebrew letters, which do not join: א ב ג.
func TestVisualOrder(t *testing.T) {
	tests := []struct{ name, text, want string }{
		{"left to right alone", "Nelken 35 g (2×)", "Nelken 35 g (2×)"},
		{"right to left alone", "אבג בא", "אב גבא"},
		{"a word between others", "ab אבג cd", "ab גבא cd"},
		{"a number after a word stands at its left", "ab אבג 35 g (2×)", "ab 35 גבא g (2×)"},
		{"a decimal and its sign stay together", "אבג 1.5%", "1.5% גבא"},
		{"a number before a word keeps its place", "35 אבג", "35 גבא"},
		{"a number within", "אב 50 ג", "ג 50 בא"},
		{"two numbers", "אב 10-20 x", "10-20 בא x"},
		{"Arabic digits before a word", "x ٣٥ אב", "x בא ٣٥"},
		{"brackets around a word", "x (אב) y", "x (בא) y"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			runs, missing := shape(tt.text, false)
			assert.False(t, missing)
			got := ""
			for _, r := range runs {
				got += r.text
			}
			assert.Equal(t, tt.want, got)
		})
	}
}

// Every script that the README names, and none shown by its code point.
func TestFontsHaveTheScriptsThatTheyShould(t *testing.T) {
	for script, text := range map[string]string{
		"Latin": "Käse łąka žluťoučký őrült İstanbul Tiếng Việt", "Greek": "Γαρίφαλο αλεσμένο", "Cyrillic": "Мускатный орех",
		"Hebrew": "קינמון", "Arabic": "قرنفل مطحون", "Persian": "دارچین پودر", "Armenian": "Հազար", "Georgian": "ქართული",
		"Chinese": "茶 香料 胡椒", "Japanese": "ターメリック カレー 山椒",
	} {
		for _, heavy := range []bool{false, true} {
			runs, missing := shape(text, heavy)
			assert.False(t, missing, "%s: %v", script, runs)
		}
	}
	_, missing := shape("계피", false)
	assert.True(t, missing, "the README says so")
}
