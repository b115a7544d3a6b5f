package page

import (
	"strings"
	"testing"

	"calsplice/cmd/calsplice/view"
)

// A line of prose does not break between a number and its per cent sign.
func TestPerCentStaysWithItsNumber(t *testing.T) {
	var b strings.Builder
	if err := Write(&b, &view.View{Title: "t", Lead: []string{"within 5 % of"}, Cautions: []string{"held to 5 %"},
		Parts: []view.Part{{Heading: "h", Text: []string{"over 8 %"}}}}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"within 5\u00a0% of", "held to 5\u00a0%", "over 8\u00a0%"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the page has no %q", want)
		}
	}
}
