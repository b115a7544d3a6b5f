package caution

import (
	"strings"
	"testing"
)

// The words that the caution must not lose.
func TestText(t *testing.T) {
	for _, want := range []string{"damage an engine", "void approval for road use", "break emission law", "one thing at a time",
		"fuel pressure, fuel quality, leaks and sensors", "wideband sensor and knock detection", "dynamometer or closed course",
		"never on a public road", "local law and licensed practice"} {
		if !strings.Contains(Text(), want) {
			t.Errorf("the caution does not say %q", want)
		}
	}
}
