package formula

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Definition is a name given to an expression over channels and earlier names.
type Definition struct{ Name, Expr string }

// IsName reports whether a text can stand for a value in an expression.
func IsName(s string) bool {
	for i, r := range s {
		if !(r == '_' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || i > 0 && r >= '0' && r <= '9') {
			return false
		}
	}
	return s != "" && !slices.Contains([]string{"true", "false", "nil", "and", "or", "not", "in"}, s)
}

// IsOwnName reports whether a name may be given to a channel: tables of its cells
// are called after it.
func IsOwnName(s string) bool { return IsName(s) && s == strings.ToLower(s) }

// Check refuses a definition that can mean nothing in any log, used or not.
func (d Definition) Check() error {
	if !IsOwnName(d.Name) {
		return errors.New("a name is lower-case letters, digits and _")
	}
	_, _, err := parse(d.Expr)
	return err
}

// Names are the names that a definition's expression uses, in order; none where
// it cannot be read.
func (d Definition) Names() []string {
	_, names, _ := parse(d.Expr)
	return names
}

// CheckRings refuses definitions that are made of each other. One that uses its
// own name means the log's channel, or what had that name before.
func CheckRings(let []Definition) error {
	const underWay, done = 1, 2
	state := make([]int, len(let))
	var path []string
	var visit func(i int) error
	visit = func(i int) error {
		state[i], path = underWay, append(path, let[i].Name)
		for _, name := range let[i].Names() {
			j := usedBy(let, i, name)
			switch {
			case j < 0 || j == i || state[j] == done:
			case state[j] == underWay:
				ring := path[slices.Index(path, name):]
				return fmt.Errorf("--let goes round in a ring: %s → %s", strings.Join(ring, " → "), name)
			default:
				if err := visit(j); err != nil {
					return err
				}
			}
		}
		state[i], path = done, path[:len(path)-1]
		return nil
	}
	for i := range let {
		if state[i] == 0 {
			if err := visit(i); err != nil {
				return err
			}
		}
	}
	return nil
}

// usedBy is the definition that definition i means by a name: the last before it,
// or itself or one behind it, which it cannot use; −1 where there is none.
func usedBy(let []Definition, i int, name string) int {
	for j := i - 1; j >= 0; j-- {
		if let[j].Name == name {
			return j
		}
	}
	if k := slices.IndexFunc(let[i:], func(d Definition) bool { return d.Name == name }); k >= 0 {
		return i + k
	}
	return -1
}
