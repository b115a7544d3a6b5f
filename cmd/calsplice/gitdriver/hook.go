package gitdriver

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"calsplice/tables/tablefile"
)

// The hook that refuses a commit while conflicts stand.
const (
	hookLine = " git pre-commit || exit 1"
	hookHead = "#!/bin/sh\n# Refuses a commit while conflicts of a calibration stand.\n"
)

// installHook sets the hook where its place is free, and else says which line
// to add. A folder of hooks that somebody named is theirs: it may be that of
// every repository, or itself be kept in git.
func (s Scope) installHook(program string) (notes string, err error) {
	if s.Global {
		return "each clone has its own hooks: calsplice git install in a clone has it refuse commits while conflicts stand", nil
	}
	file, err := s.gitPath("hooks/pre-commit")
	if err != nil {
		return "", err
	}
	// A hook of the user's may do anything, and end anywhere: so a line in the midst
	// of it is for the user to add.
	folder, _ := s.git("config", "core.hooksPath")
	text, err := os.ReadFile(file)
	switch {
	case err == nil && strings.Contains(string(text), strings.TrimSpace(hookLine)):
		return "commits are refused while conflicts stand, by " + file, nil
	case folder == "" && errors.Is(err, fs.ErrNotExist):
		if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
			return "", tablefile.Plain(file, err)
		}
		// Executable for all who may read it, as git's own samples are.
		err := os.WriteFile(file, []byte(hookHead+program+hookLine+"\n"), 0o777)
		return "commits are refused while conflicts stand, by " + file, tablefile.Plain(file, err)
	}
	return fmt.Sprintf("to refuse commits while conflicts stand, add this line to %s: %s", file, program+hookLine), nil
}

// removeHook removes the hook where it is all that installHook wrote.
func (s Scope) removeHook() string {
	file, err := s.gitPath("hooks/pre-commit")
	if err != nil {
		return ""
	}
	text, err := os.ReadFile(file)
	line, ours := strings.CutPrefix(string(text), hookHead)
	switch {
	case err != nil || !strings.Contains(string(text), strings.TrimSpace(hookLine)):
		return ""
	// The file is ours to the byte, but for the program's place.
	case ours && strings.Count(line, "\n") == 1 && strings.HasSuffix(line, hookLine+"\n") && os.Remove(file) == nil:
		return "removed " + file
	}
	return "the line that ends in " + strings.TrimSpace(hookLine) + " is yours to take out of " + file
}

// hook says what keeps git from refusing a commit while conflicts stand.
func (s Scope) hook() []string {
	file, err := s.gitPath("hooks/pre-commit")
	if err != nil {
		return nil
	}
	text, err := os.ReadFile(file)
	info, _ := os.Stat(file)
	switch {
	case err != nil:
		return []string{"no hook refuses commits while conflicts stand: calsplice git install sets it, or says how"}
	case !strings.Contains(string(text), strings.TrimSpace(hookLine)):
		return []string{fmt.Sprintf("the hook %s does not refuse commits while conflicts stand: add the line calsplice%s", file, hookLine)}
	case runtime.GOOS != "windows" && info.Mode()&0o111 == 0:
		return []string{fmt.Sprintf("git does not run the hook %s, which is not executable: chmod +x it", file)}
	}
	return nil
}

// Commit lists the conflicts that stand in the way of what is staged.
func (s Scope) Commit() ([]Standing, error) {
	s, err := s.top()
	if err != nil {
		return nil, err
	}
	// Only what would be committed counts: a conflict in another file is no reason to
	// keep this one back. Lists in git's folder stand for the merge as a whole.
	out, err := s.git("diff", "--cached", "--name-only", "-z")
	return s.standing(documents(out)), err
}

// documents are those of a list of paths that a calibration could stand in.
func documents(paths string) (list []string) {
	for path := range strings.SplitSeq(paths, "\x00") {
		if _, err := tablefile.Format(path); path != "" && err == nil {
			list = append(list, path)
		}
	}
	return list
}
