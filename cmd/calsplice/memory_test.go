package main

import (
	"os"
	"runtime"
	"runtime/debug"
	"testing"
)

// TestMemoryFollowsTheHeap: the limit of memory rises above what is in use, so that
// collections keep their distance, and comes back.
func TestMemoryFollowsTheHeap(t *testing.T) {
	if os.Getenv("GOMEMLIMIT") != "" || os.Getenv("GOGC") != "" {
		t.Skip("the limit is set from outside")
	}
	limitMemory(streaming)
	const much = 200 << 20
	reaches := func(above bool) {
		for range 1000 { // what follows a collection takes its time
			if (debug.SetMemoryLimit(-1) > much) == above {
				return
			}
			runtime.GC()
		}
		t.Fatalf("the limit is %d bytes", debug.SetMemoryLimit(-1))
	}
	held := make([]byte, much)
	reaches(true)
	runtime.KeepAlive(held)
	held = nil
	reaches(false)
	if now := debug.SetMemoryLimit(-1); now < streaming<<20 {
		t.Errorf("the limit is %d bytes", now)
	}
}
