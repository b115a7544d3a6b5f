package page

import (
	"fmt"
	"strings"
	"testing"

	"calsplice/cmd/calsplice/view"
	"calsplice/tables/shade"
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

// TestPolicy: a page fetches nothing, sends nothing, and runs only its own text.
func TestPolicy(t *testing.T) {
	var b strings.Builder
	if err := Write(&b, &view.View{Title: "t"}); err != nil {
		t.Fatal(err)
	}
	_, policy, _ := strings.Cut(b.String(), `http-equiv="Content-Security-Policy" content="`)
	policy, _, _ = strings.Cut(policy, `"`)
	got := map[string]string{}
	for part := range strings.SplitSeq(policy, ";") {
		name, sources, _ := strings.Cut(strings.TrimSpace(part), " ")
		got[name] = sources
	}
	for name, want := range map[string]string{"default-src": "'none'", "base-uri": "'none'", "form-action": "'none'", "img-src": "data:"} {
		if got[name] != want {
			t.Errorf("%s is %q, want %q", name, got[name], want)
		}
		delete(got, name)
	}
	for _, name := range []string{"style-src", "script-src"} {
		if !strings.HasPrefix(got[name], "'sha256-") || strings.Contains(got[name], "unsafe") {
			t.Errorf("%s is %q, want the digest of the page's own text", name, got[name])
		}
		delete(got, name)
	}
	if len(got) > 0 {
		t.Errorf("the policy also allows %v", got)
	}
}

// TestShadesKeepTheirSign: a fall is shaded as negative, a rise as positive, and
// the style rules give each the colour of its scale's own end.
func TestShadesKeepTheirSign(t *testing.T) {
	for _, c := range []struct {
		cell  view.Cell
		class string
	}{
		{view.Cell{Scale: view.BySign, Level: -1}, "d0"}, {view.Cell{Scale: view.BySign, Level: 0}, "d10"}, {view.Cell{Scale: view.BySign, Level: 1}, "d20"},
		{view.Cell{Scale: view.BySign, Level: 7}, "d20"}, {view.Cell{Scale: view.BySize, Level: 0}, "s0"}, {view.Cell{Scale: view.BySize, Level: 1}, "s20"},
		{view.Cell{Scale: view.BySize, Level: -3}, "s0"}, {view.Cell{Level: 1}, ""},
		{view.Cell{Mark: view.Changed}, "changed"}, {view.Cell{Mark: view.Thin}, "thin"}, {view.Cell{Mark: view.Inferred}, "inferred"},
	} {
		if got := class(c.cell); got != c.class {
			t.Errorf("%+v has the class %q, want %q", c.cell, got, c.class)
		}
	}
	rules := levelRules()
	for name, colour := range map[string]shade.RGB{"d0": shade.Diverging.At(0), "d10": shade.Diverging.At(0.5), "d20": shade.Diverging.At(1), "s0": shade.Sequential.At(0), "s20": shade.Sequential.At(1)} {
		if want := fmt.Sprintf(".%s{--bg:%s;", name, colour); !strings.Contains(rules, want) {
			t.Errorf("the style has no %s", want)
		}
	}
}
