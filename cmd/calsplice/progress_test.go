package main

import (
	"fmt"
	"strings"
	"testing"
)

// Logs that are read at one time share a bar, which ends when all are read; the
// next log has one of its own.
func TestMeter(t *testing.T) {
	var drawn strings.Builder
	m := &meter{draw: func(done, size int64) { fmt.Fprintf(&drawn, " %d/%d", done, size) }}
	a, b := m.reading(), m.reading()
	a(10, 100)
	b(50, 50)
	a(60, 100)
	a(100, 100)
	a(100, 100)
	again := m.reading()
	again(30, 100)
	again(100, 100)
	if got, want := drawn.String(), " 10/100 60/150 110/150 150/150 0/0 30/100 100/100"; got != want {
		t.Errorf("drawn%s, want%s", got, want)
	}
}
