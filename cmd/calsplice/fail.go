package main

import "calsplice/cmd/calsplice/fail"

// What ends a command, by short names: see package fail.

func attempt(do func()) error { return fail.Attempt(do) }

func check(err error) { fail.If(err) }

func must[T any](v T, err error) T { return fail.Must(v, err) }

func refuse(when bool, format string, args ...any) { fail.When(when, format, args...) }
