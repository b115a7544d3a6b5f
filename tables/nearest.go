package tables

import (
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/xrash/smetrics"
)

// Unknown says that a name is none of those there are: with the nearest, where
// one is near, or else with all of them. what is the kind of thing named.
func Unknown(what, name string, all []string) string {
	s := "there is no " + what + " " + Quote(name)
	switch near := Nearest(name, all); {
	case near != "":
		return s + ": did you mean " + near + "?"
	case len(all) == 0:
		return s + ", nor any other"
	}
	return s + ", only " + strings.Join(all, ", ")
}

// Nearest is the only name that the given one begins, of three letters at least, or
// else the name that the fewest insertions, deletions and replacements turn it into, at most
// a third of its letters and one; "" where none is so near. Of equals the most alike by Jaro and
// Winkler's measure is nearest, which minds letters that changed places.
func Nearest(name string, all []string) string {
	best, letters := "", utf8.RuneCountInString(name)
	least := min(1+letters/3, letters/2) // of one letter nothing is near
	if len(name) > 200 {
		return ""
	}
	name = strings.ToLower(name)
	if begun := slices.DeleteFunc(slices.Clone(all), func(a string) bool { return !strings.HasPrefix(strings.ToLower(a), name) }); len(begun) == 1 && letters >= 3 {
		return begun[0]
	}
	alike := 0.0
	for _, a := range all {
		if len(a) > 2*len(name)+8 {
			continue
		}
		lower := strings.ToLower(a)
		d, like := smetrics.WagnerFischer(name, lower, 1, 1, 1), smetrics.JaroWinkler(name, lower, 0.7, 4)
		if d >= len(a) { // none of its letters is there
			continue
		}
		if d < least || d == least && (best == "" || like > alike || like == alike && a < best) {
			best, least, alike = a, d, like
		}
	}
	return best
}
