package main

import "fmt"

// A command reads its flags and its files, works, and delivers a result. Whatever fails
// on the way ends it: check and its like panic with a failure, which [attempt] makes an
// error again. So that nothing is left half written, none of them may be called by what
// writes a file.

// failure is an error on its way out of a command.
type failure struct{ error }

// attempt does something and returns what ended it.
func attempt(do func()) (err error) {
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

// check ends a command with an error, if it is one.
func check(err error) {
	if err != nil {
		panic(failure{err})
	}
}

// must is a value that was read or made, if that did not fail.
func must[T any](v T, err error) T {
	check(err)
	return v
}

// refuse is for a command line that cannot be.
func refuse(when bool, format string, args ...any) {
	if when {
		check(fmt.Errorf(format, args...))
	}
}
