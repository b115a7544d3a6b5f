package tablefile

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tabletest"
)

func text(s string) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := io.WriteString(w, s)
		return err
	}
}

func holds(t *testing.T, path, want string) {
	t.Helper()
	if got, err := os.ReadFile(path); err != nil || string(got) != want {
		t.Errorf("%s holds %q, want %q (%v)", path, got, want, err)
	}
}

// alone checks that nothing stands in a folder but what is named.
func alone(t *testing.T, dir string, names ...string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, e := range entries {
		got = append(got, e.Name())
	}
	if strings.Join(got, " ") != strings.Join(names, " ") {
		t.Errorf("the folder holds %q, want %q", got, names)
	}
}

func TestReplaceMakesAndReplaces(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.json")
	for _, s := range []string{"one", "two, longer", "3"} {
		if err := Replace(path, nil, text(s)); err != nil {
			t.Fatal(err)
		}
		holds(t, path, s)
	}
	alone(t, dir, "a.json")
}

// TestFailedWriteLeavesNoTrace: the old file stays, and nothing beside it.
func TestFailedWriteLeavesNoTrace(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.json")
	if err := os.WriteFile(path, []byte("old"), 0o644); err != nil {
		t.Fatal(err)
	}
	broken := errors.New("no more numbers")
	err := Replace(path, nil, func(w io.Writer) error {
		io.WriteString(w, strings.Repeat("new", 1<<16))
		return broken
	})
	if err == nil || err.Error() != path+": no more numbers" {
		t.Errorf("the error is %v", err)
	}
	holds(t, path, "old") // promise: never torn
	alone(t, dir, "a.json")
}

// TestAbandonLeavesNoTrace: a process that was told to stop leaves the old file,
// nothing beside it, and writes nothing any more; a file that had its name
// before keeps it.
func TestAbandonLeavesNoTrace(t *testing.T) {
	defer func() { unfinished.abandoned = false }()
	dir := t.TempDir()
	path, whole := filepath.Join(dir, "a.json"), filepath.Join(dir, "b.json")
	for _, p := range []string{path, whole} {
		if err := Replace(p, nil, text("old")); err != nil {
			t.Fatal(err)
		}
	}
	err := Replace(path, nil, func(w io.Writer) error {
		io.WriteString(w, "new")
		Abandon()
		alone(t, dir, "a.json", "b.json")
		return nil
	})
	if err == nil {
		t.Error("what was abandoned is written")
	}
	if err := Replace(path, nil, text("newer")); err == nil || err.Error() != path+": "+errAbandoned.Error() {
		t.Errorf("a file is written after the end: %v", err)
	}
	holds(t, path, "old")
	holds(t, whole, "old") // promise: ctrl-c leaves nothing behind
	alone(t, dir, "a.json", "b.json")
}

func TestModeIsKept(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("Windows has no such modes")
	}
	path := filepath.Join(t.TempDir(), "a.json")
	for _, mode := range []fs.FileMode{0o600, 0o664, 0o755} {
		os.WriteFile(path, []byte("old"), 0o644)
		os.Chmod(path, mode)
		err := Replace(path, nil, func(w io.Writer) error {
			files, _ := filepath.Glob(filepath.Join(filepath.Dir(path), ".calsplice-*.tmp"))
			if info, err := os.Stat(files[0]); err != nil || info.Mode().Perm()&^mode != 0 {
				t.Errorf("what becomes %v is written as %v", mode, info.Mode())
			}
			return text("new")(w)
		})
		if err != nil {
			t.Fatal(err)
		}
		if info, err := os.Stat(path); err != nil || info.Mode().Perm() != mode {
			t.Errorf("mode %v becomes %v", mode, info.Mode())
		}
	}
	os.Remove(path)
	if err := Replace(path, nil, text("new")); err != nil {
		t.Fatal(err)
	}
	other := path + ".other"
	os.WriteFile(other, nil, 0o666)
	a, _ := os.Stat(path)
	b, _ := os.Stat(other)
	if a.Mode() != b.Mode() {
		t.Errorf("a new file has the mode %v, any other %v", a.Mode(), b.Mode())
	}
}

// TestLinksAreFollowed replaces what a symbolic link points to, over several
// of them, relative and into another folder; the links stay.
func TestLinksAreFollowed(t *testing.T) {
	dir := t.TempDir()
	far := filepath.Join(dir, "far")
	if err := os.Mkdir(far, 0o755); err != nil {
		t.Fatal(err)
	}
	target := filepath.Join(far, "a.json")
	os.WriteFile(target, []byte("old"), 0o644)
	link, second := filepath.Join(dir, "link.json"), filepath.Join(dir, "second.json")
	if err := os.Symlink(filepath.Join("far", "a.json"), link); err != nil {
		t.Skip("no symbolic links here:", err)
	}
	os.Symlink("link.json", second)
	if err := Replace(second, nil, text("new")); err != nil {
		t.Fatal(err)
	}
	holds(t, target, "new")
	for _, l := range []string{link, second} {
		if info, err := os.Lstat(l); err != nil || info.Mode()&fs.ModeSymlink == 0 {
			t.Errorf("%s is no link any more", l)
		}
	}
	alone(t, far, "a.json")
	// A link to what is not there yet makes it.
	dangling := filepath.Join(dir, "dangling.json")
	os.Symlink(filepath.Join("far", "b.json"), dangling)
	if err := Replace(dangling, nil, text("made")); err != nil {
		t.Fatal(err)
	}
	holds(t, filepath.Join(far, "b.json"), "made")
	// Links in a ring are refused.
	ring := filepath.Join(dir, "ring.json")
	os.Symlink("ring.json", ring)
	if err := Replace(ring, nil, text("x")); err == nil || !strings.Contains(err.Error(), "too many symbolic links") {
		t.Errorf("a ring of links gives %v", err)
	}
}

func TestRefused(t *testing.T) {
	dir := t.TempDir()
	if err := Replace(dir, nil, text("x")); err == nil || err.Error() != dir+": this is a folder, expected a file" {
		t.Errorf("a folder gives %v", err)
	}
	nowhere := filepath.Join(dir, "nowhere", "a.json")
	if err := Replace(nowhere, nil, text("x")); err == nil || err.Error() != nowhere+": no such file or folder" {
		t.Errorf("a missing folder gives %v", err)
	}
	if runtime.GOOS == "windows" || os.Getuid() == 0 {
		t.Skip("nothing is unwritable here, for this user")
	}
	locked := filepath.Join(dir, "a.json")
	os.WriteFile(locked, []byte("old"), 0o444)
	if err := Replace(locked, nil, text("new")); err == nil || err.Error() != locked+": permission denied" {
		t.Errorf("a read-only file gives %v", err)
	}
	holds(t, locked, "old")
	os.Chmod(dir, 0o555)
	defer os.Chmod(dir, 0o755)
	fresh := filepath.Join(dir, "b.json")
	if err := Replace(fresh, nil, text("new")); err == nil || err.Error() != fresh+": permission denied" {
		t.Errorf("a read-only folder gives %v", err)
	}
}

// TestDevicesAreWrittenTo and never renamed over.
func TestDevicesAreWrittenTo(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("no /dev here")
	}
	before, err := os.Lstat("/dev/null")
	if err != nil {
		t.Skip(err)
	}
	if err := Replace("/dev/null", nil, text("x")); err != nil {
		t.Error(err)
	}
	if after, err := os.Lstat("/dev/null"); err != nil || after.Mode() != before.Mode() {
		t.Error("/dev/null is another file now")
	}
	var out bytes.Buffer
	c := tabletest.Document(tabletest.Rand(3))
	for _, path := range []string{"-", "/dev/stdout"} {
		out.Reset()
		if err := Write(path, c, Options{Stdout: &out}); err != nil || !strings.HasPrefix(out.String(), "{\n") {
			t.Errorf("%s: %v %q", path, err, out.String())
		}
	}
}

// TestEverySpellingByItsName writes and reads each extension, in any capitals,
// and a stream by its first bytes.
func TestEverySpellingByItsName(t *testing.T) {
	dir := t.TempDir()
	c := tabletest.Document(tabletest.Rand(5))
	for _, name := range []string{"a.json", "a.csv", "a.xlsx", "A.JSON", "A.Csv"} {
		path := filepath.Join(dir, name)
		if err := Write(path, c, Options{}); err != nil {
			t.Fatal(err)
		}
		back, err := Read(path, nil)
		if err != nil || !back.Equal(c) {
			t.Errorf("%s: %v", name, err)
		}
		data, _ := os.ReadFile(path)
		if back, err = Read("-", bytes.NewReader(data)); err != nil || !back.Equal(c) {
			t.Errorf("%s from a stream: %v", name, err)
		}
	}
	for _, c := range []struct{ path, want string }{
		{"a", "a: the name has no extension, expected .json, .csv or .xlsx"},
		{"a.yaml", `a.yaml: extension ".yaml" is not known, expected .json, .csv or .xlsx`},
		{"a.json.bak", `a.json.bak: extension ".bak" is not known, expected .json, .csv or .xlsx`},
	} {
		if _, err := Read(c.path, nil); err == nil || err.Error() != c.want {
			t.Errorf("reading %s: %v", c.path, err)
		}
		if err := Write(c.path, nil, Options{}); err == nil || err.Error() != c.want {
			t.Errorf("writing %s: %v", c.path, err)
		}
	}
}

func TestTooLargeIsRefused(t *testing.T) {
	tables.SetMax(1<<20, 0)
	defer tables.SetMax(tables.DefaultMaxBytes, 0)
	for _, format := range []string{".json", ".csv", ".xlsx"} {
		path := filepath.Join(t.TempDir(), "a"+format)
		os.WriteFile(path, bytes.Repeat([]byte(" "), 1<<20+1), 0o644)
		if _, err := Read(path, nil); err == nil || !strings.Contains(err.Error(), "the input is larger than 1 MiB") {
			t.Errorf("%s: %v", format, err) // promise: bounded time and memory
		}
	}
}

// TestTooManyCells: each spelling counts the cells of all tables together, and
// refuses the first past the bound and none before it.
func TestTooManyCells(t *testing.T) {
	defer tables.SetMax(0, tables.DefaultMaxCells)
	axis := tabletest.Must(tables.NewAxis("load", "%", []float64{1, 2, 3, 4, 5, 6}))
	var list []*tables.Table
	for _, id := range []string{"a", "b"} {
		list = append(list, tabletest.Must(tables.NewTable(tables.Fields{ID: id, Unit: "V", X: axis, Values: []float64{1, 2, 3, 4, 5, 6}})))
	}
	doc := tabletest.Must(tables.NewCalibration(tables.Contents{Tables: list}))
	for _, c := range []struct {
		format string
		cells  int // a workbook counts its words and axes too
	}{{".json", 12}, {".csv", 12}, {".xlsx", 89}} {
		path := filepath.Join(t.TempDir(), "a"+c.format)
		if err := Write(path, doc, Options{}); err != nil {
			t.Fatal(err)
		}
		tables.SetMax(0, c.cells)
		if _, err := Read(path, nil); err != nil {
			t.Errorf("%s with %d cells: %v", c.format, c.cells, err)
		}
		tables.SetMax(0, c.cells-1)
		if _, err := Read(path, nil); err == nil || !strings.Contains(err.Error(), "more than") {
			t.Errorf("%s with %d cells, one too many: %v", c.format, c.cells, err) // promise: bounded time and memory
		}
		tables.SetMax(0, tables.DefaultMaxCells)
	}
}

// TestReplaceAfter: what goes first is done when the text is whole, and before
// it has its name; where it fails, or the text does, neither is replaced.
func TestReplaceAfter(t *testing.T) {
	dir := t.TempDir()
	first, second := filepath.Join(dir, "a.json"), filepath.Join(dir, "b.json")
	put := func() error { return Replace(first, nil, text("first")) }
	broken := errors.New("no more numbers")
	fail := func(io.Writer) error { return broken }
	if err := ReplaceAfter(second, nil, fail, put); err == nil {
		t.Error("a text that fails is written")
	}
	if err := ReplaceAfter(second, nil, text("second"), func() error { return Replace(first, nil, fail) }); err == nil || err.Error() != first+": no more numbers" {
		t.Errorf("a first file that fails gives %v", err)
	}
	alone(t, dir)
	if err := ReplaceAfter("-", io.Discard, text("second"), func() error { return broken }); err != broken {
		t.Errorf("before a stream it gives %v", err)
	}
	if err := ReplaceAfter(second, nil, text("second"), func() error {
		whole, err := filepath.Glob(filepath.Join(dir, ".calsplice-*.tmp"))
		if err != nil || len(whole) != 1 {
			t.Fatalf("the second text is not there first: %v %v", whole, err)
		}
		holds(t, whole[0], "second")
		return put()
	}); err != nil {
		t.Fatal(err)
	}
	holds(t, first, "first")
	holds(t, second, "second")
}

// TestTooLargeIsNotRead: a file beyond the bound is refused by its size, and one at
// the bound is read: here from a file that cannot be.
func TestTooLargeIsNotRead(t *testing.T) {
	defer tables.SetMax(tables.DefaultMaxBytes, tables.DefaultMaxCells)
	tables.SetMax(1<<20, 0)
	for size, refused := range map[int64]bool{1<<20 + 1: true, 1 << 20: false} {
		f, err := os.OpenFile(filepath.Join(t.TempDir(), "a.json"), os.O_WRONLY|os.O_CREATE, 0o666)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if err := f.Truncate(size); err != nil {
			t.Fatal(err)
		}
		if _, err := Any("-", f); err == nil || strings.Contains(err.Error(), "the input is larger than 1 MiB") != refused {
			t.Errorf("%d bytes: %v, refused by size: %v", size, err, refused)
		}
	}
}
