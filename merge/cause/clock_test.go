package cause

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"calsplice/merge/testdrive"
)

// TestOtherClock: a drive is explained the same by a clock that began elsewhere, though the
// doubles of its times differ.
func TestOtherClock(t *testing.T) {
	cal := testdrive.Four()
	path := onDisk(t, testdrive.Drive(cal, testdrive.Plant{Truth: cal, Fault: testdrive.Fault{FlowScale: 1.05}}, testdrive.DriveOptions{Seed: 11, Minutes: 8, Hz: 10}))
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	explain := func(begin float64) (numbers []float64, words []string) {
		lines := strings.Split(strings.TrimSpace(string(text)), "\n")
		for i, line := range lines[1:] {
			_, rest, _ := strings.Cut(line, ",")
			lines[1+i] = fmt.Sprintf("%.1f,%s", begin+float64(i)/10, rest)
		}
		if err := os.WriteFile(path, []byte(strings.Join(lines, "\n")), 0o666); err != nil {
			t.Fatal(err)
		}
		b, err := json.Marshal(mustExplain(t, cal, path))
		if err != nil {
			t.Fatal(err)
		}
		for d := json.NewDecoder(bytes.NewReader(b)); ; {
			token, err := d.Token()
			if err != nil {
				return numbers, words
			}
			if v, ok := token.(float64); ok {
				numbers = append(numbers, v)
			} else {
				words = append(words, fmt.Sprint(token))
			}
		}
	}
	want, said := explain(0)
	for _, begin := range []float64{0.3, 1234.5, 43199.7, 1764500000.1} {
		got, words := explain(begin)
		if d := cmp.Diff(said, words); d != "" || len(got) != len(want) {
			t.Fatalf("by a clock that began at %v s:\n%s", begin, d)
		}
		for i, v := range got {
			if math.Abs(v-want[i]) > 2e-4*max(1, math.Abs(want[i])) { // it is written to four decimals
				t.Errorf("by a clock that began at %v s number %d is %v, want %v", begin, i, v, want[i])
			}
		}
	}
}
