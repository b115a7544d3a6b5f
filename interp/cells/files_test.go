package cells

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"calsplice/interp/cells/logtest"
	"calsplice/interp/cells/sift"
	"calsplice/tables/tablejson"
)

// A stream of documents is cut at their own braces, whatever stands in their
// texts, and each fault names the document.
func TestCombineStream(t *testing.T) {
	x := logtest.Axis(t, "engine_speed", 0, 100)
	var docs []string
	var logs [][]sample
	for i := range 3 {
		logs = append(logs, []sample{{0, float64(i * 40), 0, []float64{float64(i)}}})
		g := fill(t, x, nil, Nearest, []string{"trim"}, logs[i])
		g.sources[0].Name = `odd "}{" \\ name.csv`
		g.logs = []sift.LogID{{Fingerprint: string(rune('a' + i)), Name: g.sources[0].Name}}
		var b strings.Builder
		if err := tablejson.Write(&b, document(t, g)); err != nil {
			t.Fatal(err)
		}
		docs = append(docs, b.String())
	}
	got, err := CombineFiles(context.Background(), []string{"-"}, strings.NewReader("\n "+strings.Join(docs, "\r\n")))
	if err != nil {
		t.Fatal(err)
	}
	if n := got.Table("trim.count").Values(); n[0] != 2 && n[1] != 1 || len(got.Contents().Source) != 3 {
		t.Errorf("counts are %v of %d logs", n, len(got.Contents().Source))
	}
	for _, tc := range []struct{ stream, want string }{
		{"", "-: no cell averages to combine: the stream is empty"},
		{docs[0] + docs[1][:200], "-: document 2: the stream ends within it"},
		{docs[0] + "[]", `-: document 2: begins with "[", expected cell averages in JSON`},
		{docs[0] + "{}", `-: document 2:1:1: has no "format"`},
		{docs[0] + docs[0], "name.csv of -: document 1: its samples would count twice"},
	} {
		_, err := CombineFiles(context.Background(), []string{"-"}, strings.NewReader(tc.stream))
		if err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("error is %v, want %s", err, tc.want)
		}
	}
	if _, err := CombineFiles(context.Background(), []string{filepath.Join(t.TempDir(), "none.json")}, nil); err == nil {
		t.Error("a file that is not there was combined")
	}
}
