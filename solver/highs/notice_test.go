package highs

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestTheNoticeNamesEveryHolder(t *testing.T) {
	n, err := Notice()
	require.NoError(t, err)
	for _, holder := range []string{"highs-js", "2026 HiGHS", "Timothy A. Davis", "Regents of the University of Minnesota",
		"Orson Peters", "John Burkardt", "Rich Felker", "Emscripten authors", "LLVM"} {
		assert.Contains(t, n, holder)
	}
}
