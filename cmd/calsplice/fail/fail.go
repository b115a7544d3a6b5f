// Package fail ends a command at what fails first. A command reads its flags and its
// files, works, and delivers a result; whatever fails on the way ends it: [If] and its
// like panic with a failure, which [Attempt] makes an error again. So that nothing is
// left half written, none of them may be called by what writes a file.
//
// It is for the front door and what only the front door calls. The packages below it
// return errors, as anybody's would.
package fail

import "fmt"

// failure is an error on its way out of a command.
type failure struct{ error }

// Attempt does something and returns what ended it.
func Attempt(do func()) (err error) {
	defer func() {
		switch r := recover().(type) {
		case nil:
		case failure:
			err = r.error
		default:
			panic(r)
		}
	}()
	do()
	return nil
}

// If ends a command with an error, if it is one.
func If(err error) {
	if err != nil {
		panic(failure{err})
	}
}

// Must is a value that was read or made, if that did not fail.
func Must[T any](v T, err error) T {
	If(err)
	return v
}

// When ends a command that cannot be done.
func When(cannot bool, format string, args ...any) {
	if cannot {
		If(fmt.Errorf(format, args...))
	}
}
