package gitdriver

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"

	"calsplice/cmd/calsplice/fail"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// Patterns are the files that [Install] names unless told otherwise.
var Patterns = []string{"*.json", "*.csv", "*.xlsx"}

const (
	driver  = "calsplice"
	comment = "# Calibrations are compared and merged cell by cell; other files as ever."
)

// settings are what git's configuration holds while the driver is installed.
// What git hands over follows a "--", since a file may be called -x.json. For a
// base that git makes up of several it calls the driver named as recursive.
func settings(program string) [][2]string {
	return [][2]string{
		{"diff." + driver + ".textconv", program + " git textconv --"},
		{"merge." + driver + ".name", "calibrations, cell by cell"},
		{"merge." + driver + ".driver", program + " git merge-driver -- %O %A %B %L %P"},
		{"merge." + driver + ".recursive", driver + "-base"},
		{"merge." + driver + "-base.name", "calibrations, where git makes up a common base"},
		{"merge." + driver + "-base.driver", program + " git merge-driver --virtual -- %O %A %B %L %P"},
		{"mergetool." + driver + ".cmd", program + ` git merge-tool -- "$BASE" "$LOCAL" "$REMOTE" "$MERGED"`},
		{"mergetool." + driver + ".trustExitCode", "true"},
	}
}

// cached has git keep what textconv made of each version of a file, in notes.
const cached = "diff." + driver + ".cachetextconv"

// Scope is where the driver is installed: in the clone around a folder, or for
// the user.
type Scope struct {
	Dir    string // "" is the working directory
	Global bool
}

func (s Scope) git(args ...string) (string, error) {
	cmd := exec.Command("git", args...)
	cmd.Dir = s.Dir
	var out, fault bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &fault
	// Git's first line says what is wrong; what follows is advice for git's users.
	err := cmd.Run()
	if text := strings.TrimSpace(fault.String()); err != nil && text != "" {
		first, _, _ := strings.Cut(text, "\n")
		err = fmt.Errorf("git: %s", strings.TrimPrefix(first, "fatal: "))
	}
	return strings.TrimRight(out.String(), "\r\n"), err
}

// ask is [Scope.git] of what git must know.
func (s Scope) ask(args ...string) string { return fail.Must(s.git(args...)) }

// setting is what git's configuration says; "" where it says nothing.
func (s Scope) setting(args ...string) string {
	v, _ := s.git(append([]string{"config"}, args...)...)
	return v
}

// where is the configuration that is written.
func (s Scope) where() string {
	if s.Global {
		return "--global"
	}
	return "--local"
}

// attributes is the file that names which files the driver is for.
func (s Scope) attributes() string {
	if !s.Global {
		return filepath.Join(filepath.FromSlash(s.ask("rev-parse", "--show-toplevel")), ".gitattributes")
	}
	// For a user, git reads one file: the one that is configured, or the one in its
	// usual place. Git before 2.41 has no command that prints it.
	if file := s.setting("--global", "--type=path", "core.attributesFile"); file != "" {
		return filepath.FromSlash(file)
	}
	config := os.Getenv("XDG_CONFIG_HOME")
	if config == "" {
		config = filepath.Join(fail.Must(os.UserHomeDir()), ".config")
	}
	return filepath.Join(config, "git", "attributes")
}

// Install writes git's configuration, the attributes and the hook, keeping what
// is there. It gives lines for a person.
func (s Scope) Install(patterns []string, cache bool) []string {
	file := s.attributes()
	for _, p := range patterns {
		// Quoted patterns are read by newer versions of git only; comments and negations
		// are something else.
		fail.When(p == "" || strings.ContainsAny(p, " \t\r\n\"") || p[0] == '#' || p[0] == '!', "%q is no pattern for .gitattributes", p)
	}
	program, lines := command(), s.readLines(file)
	// Nothing is written before all that may be refused has been looked at.
	list := settings(program)
	if cache {
		list = append(list, [2]string{cached, "true"})
	}
	for _, kv := range list {
		s.ask("config", s.where(), kv[0], kv[1])
	}
	addPatterns(file, lines, patterns)
	return []string{"installed; files are named in " + file, s.installHook(program)}
}

// addPatterns names files in an attributes file that holds some lines.
func addPatterns(file string, lines, patterns []string) {
	has := func(want string) bool {
		return slices.ContainsFunc(lines, func(l string) bool { return strings.TrimSpace(l) == want })
	}
	add := []string{comment}
	for _, p := range patterns {
		add = append(add, attribute(p))
	}
	if add = slices.DeleteFunc(add, has); len(add) > 1 || len(add) == 1 && add[0] != comment {
		writeLines(file, append(lines, add...))
	}
}

func attribute(pattern string) string { return pattern + " diff=" + driver + " merge=" + driver }

// Remove takes out what Install wrote and nothing else, and git's notes of what
// textconv made. It gives lines for a person.
func (s Scope) Remove() []string {
	file := s.attributes()
	lines := s.readLines(file)
	for _, section := range []string{"diff." + driver, "merge." + driver, "merge." + driver + "-base", "mergetool." + driver} {
		// A section that is not there is an error to git, and none to us.
		s.git("config", s.where(), "--remove-section", section)
	}
	// The notes that git kept of each version are the program's own print of it; the
	// reference to them goes, and git clears them away in time.
	notes := []string{"removed, from " + file + " too"}
	if !s.Global {
		s.git("update-ref", "-d", "refs/notes/textconv/"+driver)
		notes = append(notes, s.removeHook())
	}
	kept := slices.DeleteFunc(slices.Clone(lines), func(l string) bool { return l == comment || strings.HasSuffix(l, attribute("")) })
	switch {
	case len(kept) == len(lines):
	case len(kept) == 0: // git does not need an empty file, and before Install there was none
		fail.If(os.Remove(file))
	default:
		writeLines(file, kept)
	}
	return notes
}

// command is how git calls this program: by its name where that is found on the
// path, else by its place.
func command() string {
	self := fail.Must(os.Executable())
	// By name, the configuration outlives an update that moves the program. But only
	// if that name leads here, and not to another version of it.
	if found, err := exec.LookPath(driver); err == nil {
		a, errA := os.Stat(found)
		b, errB := os.Stat(self)
		if errA == nil && errB == nil && os.SameFile(a, b) {
			return driver
		}
	}
	// Git hands the line to a shell, on Windows too, where the shell reads
	// slashes.
	return "'" + strings.ReplaceAll(filepath.ToSlash(self), "'", `'\''`) + "'"
}

// readLines reads an attributes file. One of a clone may have been committed by
// anybody: as a symbolic link it is not followed, nor does git follow it.
func (s Scope) readLines(file string) []string {
	if info, err := os.Lstat(file); err == nil && !s.Global && info.Mode()&os.ModeSymlink != 0 {
		fail.If(&tables.Fault{File: file, What: "is a symbolic link, which git does not read: make it a file"})
	}
	data, err := os.ReadFile(file)
	if !errors.Is(err, os.ErrNotExist) {
		fail.If(err)
	}
	text := strings.TrimRight(strings.ReplaceAll(string(data), "\r\n", "\n"), "\n")
	if text == "" {
		return nil
	}
	return strings.Split(text, "\n")
}

func writeLines(file string, lines []string) {
	fail.If(os.MkdirAll(filepath.Dir(file), 0o777))
	fail.If(tablefile.Replace(file, nil, func(w io.Writer) error {
		_, err := io.WriteString(w, strings.Join(lines, "\n")+"\n")
		return err
	}))
}
