package tables

import (
	"fmt"
	"slices"
)

// Notes are what a reader should know beside a result: what was assumed, left
// out, or found odd. Each is a sentence that stands once, however often it is
// come upon, in the order in which it was first. Nothing reads them again to
// decide by: what a decision needs is a field of the result.
type Notes []string

// Add adds notes that are not there yet.
func (n *Notes) Add(notes ...string) {
	for _, s := range notes {
		if !slices.Contains(*n, s) {
			*n = append(*n, s)
		}
	}
}

// Addf adds a note in the way of [fmt.Sprintf].
func (n *Notes) Addf(format string, args ...any) { n.Add(fmt.Sprintf(format, args...)) }
