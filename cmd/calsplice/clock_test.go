package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"calsplice/merge/testdrive"
	"calsplice/tables/tablefile"
)

// TestClockCountsFromAnywhere: what a drive says does not depend on when its clock
// counts from, though doubles hold fewer digits of a time since 1970: the times at which
// something was move with the clock, and no other number does.
func TestClockCountsFromAnywhere(t *testing.T) {
	truth := testdrive.Four()
	cal := testdrive.Scaled(truth, "injector.flow", 1.08, 0)
	drive := testdrive.Drive(cal, testdrive.Plant{Truth: truth, Fault: testdrive.Fault{OldFuel: 4}}, testdrive.DriveOptions{Minutes: 12, Hz: 20, Seed: 5, Purge: true, Wideband: true})
	folder := t.TempDir()
	van, path := filepath.Join(folder, "van.json"), filepath.Join(folder, "drive.csv")
	if err := tablefile.Write(van, cal, tablefile.Options{}); err != nil {
		t.Fatal(err)
	}
	var log bytes.Buffer
	if err := drive.WriteCSV(&log); err != nil {
		t.Fatal(err)
	}
	when := regexp.MustCompile(`"(start|end)": \S+`)
	told := func(origin float64) (list []string) {
		lines := strings.SplitAfter(log.String(), "\n")
		for i, line := range lines {
			if first, rest, ok := strings.Cut(line, ","); ok && i > 0 {
				at, err := strconv.ParseFloat(first, 64)
				if err != nil {
					t.Fatal(err)
				}
				lines[i] = fmt.Sprintf("%.3f,%s", origin+at, rest)
			}
		}
		if err := os.WriteFile(path, []byte(strings.Join(lines, "")), 0o644); err != nil {
			t.Fatal(err)
		}
		for _, line := range []string{"cells %[2]s --steady --delay lag=0.2 --value trim,mixture_error --axes %[1]s -o -", "explain %s %s --json", "events %[2]s --json",
			"propose fuel %s %s --despite-cause --json", "propose spark %s %s --despite-cause --json"} {
			status, out, stderr := ran(fmt.Sprintf(line, van, path))
			if status == statusTrouble || len(out) < 500 {
				t.Fatalf("%s: status %d, %s%s", line, status, out, stderr)
			}
			out, _, _ = strings.Cut(out, `"state"`) // which knows logs by their bytes
			list = append(list, when.ReplaceAllString(out, ""))
		}
		return list
	}
	want := told(0)
	for _, origin := range []float64{86_000.35, 1.6e9} {
		for i, got := range told(origin) {
			if got != want[i] {
				t.Errorf("a clock from %v s:\n%.2000s\nfrom 0:\n%.2000s", origin, got, want[i])
			}
		}
	}
}
