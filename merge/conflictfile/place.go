package conflictfile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// places are where the conflicts of a merged document may stand: in
// NAME.conflicts.json beside it, and, where that is the list of another
// document of the same name, in NAME.EXTENSION.conflicts.json.
func places(doc string) [2]string {
	const suffix = ".conflicts.json"
	return [2]string{strings.TrimSuffix(doc, filepath.Ext(doc)) + suffix, doc + suffix}
}

// Standing is the list beside a document that still holds conflicts of it, and
// its file; "" where there is none.
func Standing(doc string) (file string, list List) {
	for i, file := range places(doc) {
		if l, err := look(file); err == nil && len(l.Conflicts) > 0 && (i > 0 || l.belongs(doc)) {
			return file, l
		}
	}
	return "", List{}
}

// Place is where n conflicts of a merge into a document are to stand; "" where there
// are none and no list of it stands, or where the document is a device. A list that
// stands there gives way only where settles holds of its conflicts, and nothing that is
// no list gives way to one.
func Place(doc string, n int, settles func([]merge.Conflict) bool) (file string, err error) {
	if tablefile.Device(doc) {
		return "", nil
	}
	if file, _ = Standing(doc); file == "" && n == 0 {
		return "", nil
	} else if file == "" {
		file = places(doc)[0]
		if l, err := look(file); err == nil && len(l.Conflicts) > 0 {
			file = places(doc)[1]
		}
	}
	return file, Free(file, settles)
}

// Free is the error that keeps a list from being written to a file: see [Place].
func Free(file string, settles func([]merge.Conflict) bool) error {
	l, err := look(file)
	if err == nil && len(l.Conflicts) > 0 && !settles(l.Conflicts) {
		err = &tables.Fault{File: file, What: fmt.Sprintf("still lists %s, and would be replaced: resolve them first, or delete the list",
			tables.Plural(len(l.Conflicts), "conflict"))}
	}
	return err
}

// look reads the list in a place; without a file it is empty. A symbolic link
// is not followed, since whoever gave the folder away may have made it.
func look(file string) (l List, err error) {
	info, err := os.Lstat(file)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return l, nil
	case err != nil:
		return l, tablefile.Plain(file, err)
	case info.Mode().IsRegular():
		if l, err = Read(file, nil); err == nil {
			return l, nil
		}
	}
	what := "is no list of conflicts, and would be replaced by one: move it"
	if info.Mode()&fs.ModeSymlink != 0 {
		what = "is a symbolic link, and no list of conflicts is written through one: move it"
	}
	return List{}, &tables.Fault{File: file, What: what}
}

// belongs reports whether a list in the first of a document's places is about
// that document, and not about another one with the same name before its
// extension.
func (l List) belongs(doc string) bool {
	beside := func(name string) bool {
		_, err := os.Lstat(filepath.Join(filepath.Dir(doc), name))
		return name != filepath.Base(doc) && err == nil
	}
	if l.Merged != "" {
		return !beside(l.Merged)
	}
	stem := strings.TrimSuffix(filepath.Base(doc), filepath.Ext(doc))
	return !slices.ContainsFunc([]string{".json", ".csv", ".xlsx"}, func(ext string) bool { return beside(stem + ext) })
}

// Within reports whether every conflict of a list is one of others, wherever
// its cell has come to stand since.
func Within(list, others []merge.Conflict) bool {
	w := newWriter("")
	key := func(c merge.Conflict) string {
		c.Row, c.Column, c.In, c.After = 0, 0, "", nil
		return string(w.append(nil, c))
	}
	known := map[string]bool{}
	for _, c := range others {
		known[key(c)] = true
	}
	return !slices.ContainsFunc(list, func(c merge.Conflict) bool { return !known[key(c)] })
}
