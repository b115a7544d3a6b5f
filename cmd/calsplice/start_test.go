package main

import (
	"bufio"
	"bytes"
	"fmt"
	"strings"
	"testing"
)

// TestStartsLight: what no run is sure to need (a page's template, the units, the
// scales of colour) is made when it is first needed, so that none of our packages
// does more before main than to lay out its lists.
func TestStartsLight(t *testing.T) {
	const most = 32 << 10 // bytes a package; the largest takes 14 KB
	cmd := program("--version")
	cmd.Env = append(cmd.Env, "GODEBUG=inittrace=1")
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	if err := cmd.Run(); err != nil {
		t.Fatal(err)
	}
	ours := 0
	for s := bufio.NewScanner(&stderr); s.Scan(); {
		// init PACKAGE @N ms, N ms clock, N bytes, N allocs
		words := strings.Fields(s.Text())
		if len(words) < 10 || words[0] != "init" || !strings.HasPrefix(words[1], "calsplice/") {
			continue
		}
		ours++
		var bytes int
		if _, err := fmt.Sscan(words[7], &bytes); err != nil || bytes > most {
			t.Errorf("%s takes %s bytes before main, want at most %d", words[1], words[7], most)
		}
	}
	if ours < 5 {
		t.Errorf("only %d packages of ours have a line in the trace", ours)
	}
}
