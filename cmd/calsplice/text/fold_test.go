package text

import (
	"bytes"
	"strings"
	"testing"

	"github.com/rivo/uniseg"
	"pgregory.net/rapid"
)

func TestFold(t *testing.T) {
	for _, c := range []struct{ line, want, why string }{
		{"calsplice: short\n", "calsplice: short\n", "a line that fits"},
		{"calsplice: one change at a time\n", "calsplice: one\n  change at a time\n", "a line that does not"},
		{"  - one change at a time, please\n", "  - one change at a\n    time, please\n", "the indent stays"},
		{"calsplice: a/very/long/name/of/a/file.json\n", "calsplice:\n  a/very/long/name/of/a/file.json\n", "a word wider than the window"},
		{"calsplice: one change at a time", "calsplice: one\n  change at a time", "without an end"},
		{"\x1b[1mone change at a time, please\x1b[0m\n", "\x1b[1mone change at a time, please\x1b[0m\n", "drawn already"},
		{"", "", "nothing"},
	} {
		if got := fold(c.line, 20); got != c.want {
			t.Errorf("%s: %q becomes %q, want %q", c.why, c.line, got, c.want)
		}
	}
	var b bytes.Buffer
	if Folded(&b) != &b {
		t.Error("what is no terminal is folded")
	}
}

// TestFoldKeepsEveryWord: no word is lost or cut, and no line is wider than the
// window unless a word is.
func TestFoldKeepsEveryWord(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := rapid.StringMatching(`[ a-zéµ漢]{0,200}`).Draw(t, "line")
		width := rapid.IntRange(20, 100).Draw(t, "width")
		got := fold(line, width)
		if strings.Join(strings.Fields(got), " ") != strings.Join(strings.Fields(line), " ") {
			t.Fatalf("%q becomes %q", line, got)
		}
		for part := range strings.SplitSeq(got, "\n") {
			if w := uniseg.StringWidth(strings.TrimRight(part, " ")); w > width && len(strings.Fields(part)) > 1 {
				t.Errorf("%d columns in a window of %d: %q", w, width, part)
			}
		}
	})
}
