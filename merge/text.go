package merge

import (
	"regexp"
	"strings"

	"github.com/sergi/go-diff/diffmatchpatch"
)

// Word is a run of text that both sides have, or one only.
type Word struct {
	Op   string `json:"op"` // "keep", "remove" or "add"
	Text string `json:"text"`
}

// words tells two texts apart word by word.
func words(a, b string) []Word {
	// Each distinct word becomes one character, so that the character diff of
	// the library is one of words.
	var list []string
	index := map[string]rune{}
	code := func(s string) []rune {
		var out []rune
		for _, w := range splitWords(s) {
			r, ok := index[w]
			if !ok {
				// Characters past the surrogates only: the library carries text
				// in strings, which those cannot stand in.
				r = rune(0xE000 + len(list))
				index[w] = r
				list = append(list, w)
			}
			out = append(out, r)
		}
		return out
	}
	ra, rb := code(a), code(b)
	if len(list) > 0x100000 {
		return []Word{{"remove", a}, {"add", b}}
	}
	d := diffmatchpatch.New()
	d.DiffTimeout = 0 // the same answer each time, however busy the machine
	var out []Word
	for _, part := range d.DiffMainRunes(ra, rb, false) {
		var text strings.Builder
		for _, r := range part.Text {
			text.WriteString(list[r-0xE000])
		}
		op := map[diffmatchpatch.Operation]string{diffmatchpatch.DiffEqual: "keep", diffmatchpatch.DiffDelete: "remove", diffmatchpatch.DiffInsert: "add"}[part.Type]
		out = append(out, Word{op, text.String()})
	}
	return out
}

// splitWords cuts text into words, runs of blanks, and single other marks.
func splitWords(s string) []string {
	return regexp.MustCompile(`(?s)[\s\v\p{Z}\x{85}]+|[\p{L}\p{N}_']+|.`).FindAllString(s, -1)
}
