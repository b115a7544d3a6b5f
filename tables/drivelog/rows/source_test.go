package rows

import (
	"strings"
	"testing"
)

// TestBomb: a log that packs to almost nothing is refused past 64 MB.
func TestBomb(t *testing.T) {
	const bombed = "zstd stream: it unpacks to more than 500 times its size: no drive log does"
	for _, c := range []struct {
		unpacked, packed int64
		bomb             bool
	}{
		{64 << 20, 1, false}, {64<<20 + 1, 1, true}, {64<<20 + 1, 64 << 20 / 500, false}, {64<<20 + 1, 64<<20/500 - 1, true}, {1 << 30, 1 << 30 / 500, false},
	} {
		u := &unpacked{name: "zstd", r: strings.NewReader("7"), packed: c.packed, given: c.unpacked - 1}
		if _, err := u.Read(make([]byte, 1)); (err != nil) != c.bomb || c.bomb && err.Error() != bombed {
			t.Errorf("%d bytes packed to %d: %v", c.unpacked, c.packed, err) // promise: bounded time and memory
		}
	}
}
