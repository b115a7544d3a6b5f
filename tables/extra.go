package tables

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"
)

// Extra holds keys that the format does not know but keeps ("x-…"), each with its
// value as compact JSON. It is nil where there are none.
type Extra map[string]string

// Sorted are the keys in their order, with what each holds.
func (e Extra) Sorted() iter.Seq2[string, string] {
	return func(yield func(key, value string) bool) {
		for _, key := range slices.Sorted(maps.Keys(e)) {
			if !yield(key, e[key]) {
				return
			}
		}
	}
}

// Keep adds a key, or replaces what it holds.
func (e *Extra) Keep(key, value string) {
	if *e == nil {
		*e = Extra{}
	}
	(*e)[key] = value
}

// Validate refuses a key that does not begin with "x-", and what is no compact JSON.
func (e Extra) Validate() error {
	for key := range e.Sorted() {
		if !strings.HasPrefix(key, "x-") {
			return fmt.Errorf("unknown key %s", Quote(key))
		}
	}
	return e.carried()
}

// carried refuses what no file format can carry.
func (e Extra) carried() error {
	for key, value := range e.Sorted() {
		if key == "" {
			return fmt.Errorf("key %s has no name", Quote(key))
		}
		if err := cmp.Or(validText("key", key), validKept(key, value)); err != nil {
			return err
		}
	}
	return nil
}

// validKept refuses a value that no spelling could carry or that would not
// read back as it was: what is not JSON, has blanks between its parts, or nests
// too deep.
func validKept(key, value string) error {
	if len(value) > MaxText {
		return fmt.Errorf("key %s: %s", Quote(key), TooLongText())
	}
	if plainString(value) {
		return nil // the long ones: the exact state of cells
	}
	if !utf8.ValidString(value) || !json.Valid([]byte(value)) {
		return fmt.Errorf("key %s holds %s, expected JSON", Quote(key), Quote(value))
	}
	depth, deepest, text := 0, 0, false
	for i := 0; i < len(value); i++ {
		switch c := value[i]; {
		case text && c == '\\':
			i++
		case c == '"':
			text = !text
		case text:
		case c == '{' || c == '[':
			depth++
			deepest = max(deepest, depth)
		case c == '}' || c == ']':
			depth--
		case c <= ' ':
			return fmt.Errorf("key %s holds %s, expected compact JSON", Quote(key), Quote(value))
		}
	}
	if deepest > MaxExtraDepth {
		return fmt.Errorf("key %s nests deeper than %d levels", Quote(key), MaxExtraDepth)
	}
	return nil
}

// plainString reports whether JSON is a string of plain ASCII without escapes.
func plainString(json string) bool {
	n := len(json)
	if n < 2 || json[0] != '"' || json[n-1] != '"' {
		return false
	}
	odd := uint8(0) // no branch a byte: the state of cells is long
	for i := 1; i < n-1; i++ {
		odd |= oddByte[json[i]]
	}
	return odd == 0
}

// oddByte is not 0 for what is no plain ASCII in a JSON string.
var oddByte = func() (odd [256]uint8) {
	for c := range odd {
		if c < ' ' || c > '~' || c == '"' || c == '\\' {
			odd[c] = 1
		}
	}
	return odd
}()

// Equal reports whether two sets of kept keys are the same.
func (e Extra) Equal(o Extra) bool { return maps.Equal(e, o) }

// validState checks what cell averages carry: as kept keys, but without "x-".
func validState(state Extra) error {
	if err := state.carried(); err != nil {
		return fmt.Errorf("state: %w", err)
	}
	return nil
}

// validText refuses text that no file format can carry.
func validText(what, s string) error {
	if wrong := wrongText(s, what+" is"); wrong != "" {
		return errors.New(wrong)
	}
	return nil
}

// wrongText is what is wrong with text that no file format can carry: bytes that
// are not UTF-8, NUL, and more than [MaxText].
func wrongText(s, is string) string {
	switch {
	case len(s) > MaxText:
		return is + " " + Quote(s) + ": " + TooLongText()
	case !utf8.ValidString(s) || strings.ContainsRune(s, 0):
		return is + " " + Quote(s) + ", expected clean UTF-8 text"
	}
	return ""
}
