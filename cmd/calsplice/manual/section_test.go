package manual

import (
	"slices"
	"strings"
	"testing"
)

// TestDeclared: each way to declare a flag, and what is made of it.
func TestDeclared(t *testing.T) {
	for _, c := range []struct {
		line string
		want Declared
	}{
		{"--json  print JSON", Declared{Names: []string{"json"}, Usage: "print JSON"}},
		{"--quiet, -q  print nothing", Declared{Names: []string{"quiet", "q"}, Usage: "print nothing"}},
		{"-o, --out FILE  the result", Declared{Names: []string{"o", "out"}, Value: "FILE", Usage: "the result"}},
		{"-x 'QUANTITY [UNIT]'  of the columns", Declared{Names: []string{"x"}, Value: "'QUANTITY [UNIT]'", Usage: "of the columns"}},
		{"--table GLOB+  only these", Declared{Names: []string{"table"}, Value: "GLOB", Many: true, Usage: "only these"}},
		{"--by cells|fit:=cells  how", Declared{Names: []string{"by"}, Value: "cells|fit", Default: "cells", Usage: "how"}},
		{"--warm-at DEGC:=70  from here", Declared{Names: []string{"warm-at"}, Value: "DEGC", Default: "70", Usage: "from here"}},
	} {
		got := declared(c.line)
		if !slices.Equal(got.Names, c.want.Names) || got.Value != c.want.Value || got.Default != c.want.Default || got.Many != c.want.Many || got.Usage != c.want.Usage {
			t.Errorf("%s: %+v, want %+v", c.line, got, c.want)
		}
	}
}

// TestSectionsAreWhole: every name behind "&" is a section's or a shared flag's, every
// flag says what it does, and the first of a name stands.
func TestSectionsAreWhole(t *testing.T) {
	for name, s := range sections() {
		for _, line := range s.lines {
			for word := range strings.FieldsSeq(strings.TrimPrefix(line, "&")) {
				if strings.HasPrefix(line, "&") && len(taken(word)) == 0 {
					t.Errorf("%s: nothing is called %s", name, word)
				}
			}
		}
		seen := map[string]bool{}
		for _, d := range s.Flags() {
			if d.Usage == "" || seen[d.Names[0]] {
				t.Errorf("%s: --%s has no usage, or stands twice", name, d.Names[0])
			}
			seen[d.Names[0]] = true
		}
	}
	own := func(d Declared) bool {
		return d.Names[0] == "channel" && d.Topic == "" && strings.HasPrefix(d.Usage, "the ones to draw")
	}
	if !slices.ContainsFunc(Of("trace").Flags(), own) {
		t.Error("trace's own --channel does not stand for that of drive logs")
	}
}
