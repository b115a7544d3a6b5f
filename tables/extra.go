package tables

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// Extra holds keys that the format does not know but keeps ("x-…"), sorted by
// key, each with its value as compact JSON.
type Extra []ExtraKey

// ExtraKey is one kept key. Value is valid, compact JSON.
type ExtraKey struct {
	Key   string
	Value string
}

// NewExtra sorts and checks kept keys: each begins with "x-", stands once, and
// has a value that is compact JSON.
func NewExtra(keys []ExtraKey) (Extra, error) {
	e := Extra(slices.Clone(keys))
	SortKeys(e)
	if len(e) == 0 {
		return nil, nil
	}
	return e, e.validate()
}

// SortKeys puts kept keys into their order.
func SortKeys(keys []ExtraKey) {
	slices.SortFunc(keys, byKey)
}

func byKey(a, b ExtraKey) int { return strings.Compare(a.Key, b.Key) }

func (e Extra) validate() error {
	for _, k := range e {
		if !strings.HasPrefix(k.Key, "x-") {
			return fmt.Errorf("unknown key %s", Quote(k.Key))
		}
	}
	return validKeys(e)
}

// validKeys refuses kept keys that stand twice or out of order, and what no file
// format can carry.
func validKeys(keys []ExtraKey) error {
	for i, k := range keys {
		if k.Key == "" || i > 0 && keys[i-1].Key >= k.Key {
			return fmt.Errorf("key %s stands twice, out of order or has no name", Quote(k.Key))
		}
		if err := firstError(validText("key", k.Key), validKept(k)); err != nil {
			return err
		}
	}
	return nil
}

// validKept refuses a value that no spelling could carry or that would not
// read back as it was: what is not JSON, has blanks between its parts, or nests
// too deep.
func validKept(k ExtraKey) error {
	if len(k.Value) > MaxText {
		return fmt.Errorf("key %s: %s", Quote(k.Key), TooLongText())
	}
	if plainString(k.Value) {
		return nil // the long ones: the exact state of cells
	}
	if !utf8.ValidString(k.Value) || !json.Valid([]byte(k.Value)) {
		return fmt.Errorf("key %s holds %s, expected JSON", Quote(k.Key), Quote(k.Value))
	}
	depth, deepest, text := 0, 0, false
	for i := 0; i < len(k.Value); i++ {
		switch c := k.Value[i]; {
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
			return fmt.Errorf("key %s holds %s, expected compact JSON", Quote(k.Key), Quote(k.Value))
		}
	}
	if deepest > MaxExtraDepth {
		return fmt.Errorf("key %s nests deeper than %d levels", Quote(k.Key), MaxExtraDepth)
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
func (e Extra) Equal(o Extra) bool { return slices.Equal(e, o) }

func (e Extra) clone() Extra { return slices.Clone(e) }

// validState checks what cell averages carry: as kept keys, but without "x-".
func validState(state []ExtraKey) error {
	if err := validKeys(state); err != nil {
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
