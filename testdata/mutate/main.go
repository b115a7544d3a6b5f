// Mutate puts single mistakes into one package, one after the other, and asks
// the package's own tests whether they notice.
//
//	go run . [-n 200] [-seed 1] [-p 2] [-by FOLDER,...] FOLDER
//
// FOLDER is a package of the module above, such as interp/cells; -by names
// packages that use it and whose tests are asked after its own. A mistake is:
// a condition that never holds, a comparison with the other bound or the
// opposite, one side of && and || left out, another operator of arithmetic,
// another constant beside an operator, a statement left out. Checks of err are
// left alone, since most of them no test can reach.
//
// All mistakes are compiled into each package's test binary, each behind a switch that the
// environment sets (see site.go), so that a mistake costs a run and no build.
// Each test is run once without any, to see which mistakes it reaches; a
// mistake is then shown to those tests alone, the quick ones first, and ends at
// the first that fails. One that no test reaches, or that all pass, is printed:
// it wants a test, or a line in equivalent.txt that says why none can tell.
//
// It promises to leave the checkout as it is (the mistakes are in an overlay that
// go build lays over it) and to draw the same lot for a seed. What it leaves out:
// mistakes in tests, in constants and types, in checks of err; and mistakes of two
// places, which mostly show where one of them does.
package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"golang.org/x/sync/errgroup"
)

func main() {
	j := job{root: filepath.Join("..", "..")}
	flag.IntVar(&j.sample, "n", 0, "how many mistakes, chosen by lot; 0 is all")
	flag.Uint64Var(&j.seed, "seed", 1, "of the lot")
	flag.IntVar(&j.workers, "p", 2, "test binaries side by side")
	by := flag.String("by", "", "further `FOLDERS` whose tests may notice, separated by commas")
	flag.Parse()
	if flag.NArg() != 1 {
		fmt.Fprintln(os.Stderr, "mutate: want one folder, such as interp/cells")
		os.Exit(2)
	}
	j.folder, j.by = flag.Arg(0), strings.FieldsFunc(*by, func(r rune) bool { return r == ',' })
	lived, err := j.run(os.Stdout)
	if err != nil {
		fmt.Fprintln(os.Stderr, "mutate:", err)
		os.Exit(2)
	}
	if lived > 0 {
		os.Exit(1)
	}
}

// job is a package to try, and whose tests may notice.
type job struct {
	root, folder string
	by           []string // folders of further packages
	sample       int      // of the mistakes; 0 is all
	seed         uint64
	workers      int
}

// draw chooses the sample.
func (j job) draw(sites []*site) []*site {
	if j.sample == 0 || j.sample >= len(sites) {
		return sites
	}
	// By lot, but the same for a seed: a survivor can be looked at again after a test
	// was written for it.
	rand.New(rand.NewPCG(j.seed, 0)).Shuffle(len(sites), func(i, j int) { sites[i], sites[j] = sites[j], sites[i] })
	sites = sites[:j.sample]
	slices.SortFunc(sites, func(a, b *site) int { return a.number - b.number })
	return sites
}

// run tries a package's mistakes and prints those that no test noticed.
func (j job) run(out io.Writer) (lived int, err error) {
	root, err := filepath.Abs(j.root)
	if err != nil {
		return 0, err
	}
	work, err := os.MkdirTemp("", "mutate-*")
	if err != nil {
		return 0, err
	}
	defer os.RemoveAll(work)
	b := &bench{root: root, work: work, took: map[test]time.Duration{}, tests: map[int][]test{}}
	sites, err := b.build(j.folder, j.by)
	if err != nil {
		return 0, err
	}
	// Reached first, drawn then: the lot does not depend on the tests.
	if err := b.reach(); err != nil {
		return 0, err
	}
	sites = j.draw(sites)
	same, err := equivalents("equivalent.txt")
	if err != nil {
		return 0, err
	}
	sites = slices.DeleteFunc(sites, func(s *site) bool { return same[s.key(j.folder)] })
	unreached := 0
	b.try(sites, j.workers, func(s *site) {
		if s.killer != "" {
			return
		}
		lived++
		// Whether a test reaches the line at all says which kind of test is missing.
		why := "all pass"
		if len(b.tests[s.number]) == 0 {
			why = "not reached"
			unreached++
		}
		fmt.Fprintf(out, "%s/%s:%d: %s (%s)\n\t%s\n", j.folder, s.file, s.line, s.what, why, s.key(j.folder))
	})
	killed := len(sites) - lived
	fmt.Fprintf(out, "%s: %d of %d mistakes noticed, %.0f %%; %d were reached by no test\n", j.folder, killed, len(sites),
		100*float64(killed)/float64(max(1, len(sites))), unreached)
	return lived, nil
}

// equivalents are the mistakes of which somebody found out that nothing can
// tell them: a line each, with the reason behind a tab.
func equivalents(file string) (map[string]bool, error) {
	text, err := os.ReadFile(file)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	same := map[string]bool{}
	for line := range strings.Lines(string(text)) {
		key, _, _ := strings.Cut(strings.TrimSpace(line), "\t")
		same[key] = true
	}
	return same, err
}

// bench is what is known of the tests that may notice.
type bench struct {
	root, work string
	suites     []*suite               // the package's own tests first
	took       map[test]time.Duration // without a mistake
	tests      map[int][]test         // by mistake, the tests that reach it, in the order in which they are asked
}

// suite is the test binary of a package.
type suite struct {
	folder, binary string
	quiet          []string // flags that keep tests from leaving files behind
}

type test struct {
	suite *suite
	name  string
}

// build compiles the tests with all mistakes in them.
func (b *bench) build(folder string, others []string) ([]*site, error) {
	p, err := load(b.root, folder)
	if err != nil {
		return nil, err
	}
	// The overlay leaves the checkout alone: whatever ends this run, nothing has to be
	// put back.
	sites, texts, err := p.mutate()
	if err != nil {
		return nil, err
	}
	texts["zz_mutant.go"] = strings.Replace(strings.Replace(switchboard, "PACKAGE", p.Name, 1), "COUNT", strconv.Itoa(len(sites)+1), 1)
	list, err := b.overlay(folder, texts)
	if err != nil {
		return nil, err
	}
	for i, f := range append([]string{folder}, others...) {
		s := &suite{folder: filepath.Join(b.root, f), binary: filepath.Join(b.work, "tests"+strconv.Itoa(i))}
		cmd := exec.Command("go", "test", "-c", "-vet=off", "-overlay", list, "-o", s.binary, "./"+f)
		cmd.Dir = b.root
		if said, err := cmd.CombinedOutput(); err != nil {
			return nil, fmt.Errorf("the mistakes do not compile: %w\n%s", err, said)
		}
		b.suites = append(b.suites, s)
	}
	return sites, nil
}

// overlay writes the package's changed texts, and the list of what they stand
// for that go build takes.
func (b *bench) overlay(folder string, texts map[string]string) (list string, err error) {
	replace := map[string]string{}
	for name, text := range texts {
		file := filepath.Join(b.work, name)
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			return "", err
		}
		replace[filepath.Join(b.root, folder, name)] = file
	}
	text, err := json.Marshal(map[string]any{"Replace": replace})
	if err != nil {
		return "", err
	}
	list = filepath.Join(b.work, "overlay.json")
	return list, os.WriteFile(list, text, 0o600)
}

// switchboard is the file that is added to the package: it tells which mistake
// is on, and writes down the first time that the place of each is reached.
const switchboard = `package PACKAGE

import (
	"os"
	"strconv"
)

var (
	mutantNow, _ = strconv.Atoi(os.Getenv("MUTANT"))
	mutantMet    [COUNT]bool
	mutantList   = func() *os.File { f, _ := os.Create(os.Getenv("MUTANT_LIST")); return f }()
)

func mutantIs(n int) bool {
	if !mutantMet[n] {
		mutantFirst(n)
	}
	return n == mutantNow
}

func mutantFirst(n int) {
	mutantMet[n] = true
	if mutantList != nil {
		mutantList.WriteString(strconv.Itoa(n) + "\n")
	}
}
`

// reach runs each test alone, without a mistake. A package's own tests are
// asked first, the quick ones before the slow ones.
func (b *bench) reach() error {
	for _, s := range b.suites {
		names, err := s.list()
		if err != nil {
			return err
		}
		hits := map[test][]int{}
		for _, name := range names {
			t := test{s, name}
			if hits[t], b.took[t], err = b.alone(t); err != nil {
				return err
			}
		}
		quick := slices.SortedFunc(maps.Keys(hits), func(x, y test) int { return int(b.took[x] - b.took[y]) })
		// A test that reaches nothing of the package is never run again.
		for _, t := range quick {
			for _, n := range hits[t] {
				b.tests[n] = append(b.tests[n], t)
			}
		}
	}
	return nil
}

// alone runs a test without a mistake: which mistakes it reaches, and how long
// it takes.
func (b *bench) alone(t test) (hits []int, took time.Duration, err error) {
	list := filepath.Join(b.work, "reached")
	os.Remove(list)
	start := time.Now()
	said, err := t.suite.run(context.Background(), []string{"MUTANT_LIST=" + list}, "-test.short", "-test.run", "^"+t.name+"$")
	if err != nil {
		return nil, 0, fmt.Errorf("%s fails without a mistake: %w\n%s", t.name, err, said)
	}
	took = time.Since(start)
	text, _ := os.ReadFile(list)
	for _, word := range strings.Fields(string(text)) {
		n, _ := strconv.Atoi(word)
		hits = append(hits, n)
	}
	slices.Sort(hits)
	return slices.Compact(hits), took, nil
}

// list names a package's tests, and finds its quiet flags.
func (s *suite) list() ([]string, error) {
	// The library for laws writes a file for each failure, and here most runs fail.
	if help, _ := s.run(context.Background(), nil, "-help"); strings.Contains(help, "rapid.nofailfile") {
		s.quiet = []string{"-rapid.nofailfile"}
	}
	said, err := s.run(context.Background(), nil, "-test.list", "^(Test|Fuzz|Example)")
	if err != nil {
		return nil, fmt.Errorf("%w: %s", err, said)
	}
	return strings.Fields(said), nil
}

// run runs the test binary in the package's folder, with bounded memory where
// the system has a shell for that.
func (s *suite) run(ctx context.Context, env []string, args ...string) (string, error) {
	args = append(slices.Clone(args), s.quiet...)
	cmd := exec.CommandContext(ctx, s.binary, args...)
	// A mistake may well be a loop that takes all memory there is.
	if shell, err := exec.LookPath("sh"); err == nil {
		cmd = exec.CommandContext(ctx, shell, append([]string{"-c", `ulimit -v 8000000 2>/dev/null; exec "$@"`, "sh", s.binary}, args...)...)
	}
	cmd.Dir = s.folder
	cmd.Env = append(os.Environ(), env...)
	cmd.WaitDelay = time.Second
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &out
	err := cmd.Run()
	return out.String(), err
}

// try puts each mistake before the tests that reach it, and says of each in
// their order what became of it.
func (b *bench) try(sites []*site, workers int, tell func(*site)) {
	for _, s := range sites {
		s.tried = make(chan struct{})
	}
	var group errgroup.Group
	// Mistakes are tried side by side and reported in their order, each as soon as all
	// before it are known.
	group.SetLimit(workers)
	go func() {
		for _, s := range sites {
			group.Go(func() error { s.killer = b.killer(s); close(s.tried); return nil })
		}
	}()
	for _, s := range sites {
		<-s.tried
		tell(s)
	}
}

// together is how long tests may take that are run in one process.
const together = time.Second

// killer is a test that notices a mistake, "" where none does. A test that
// takes far longer than without it has noticed.
func (b *bench) killer(s *site) string {
	tests := b.tests[s.number]
	for len(tests) > 0 {
		names, took := tests[0].name, b.took[tests[0]]
		n := 1
		// Starting a process costs more than most tests: the quick ones run together, as
		// long as a failure among them comes soon.
		for n < len(tests) && tests[n].suite == tests[0].suite && took+b.took[tests[n]] < together {
			names += "|" + tests[n].name
			took += b.took[tests[n]]
			n++
		}
		// Ten times as long as without the mistake is a loop, and a loop is noticed.
		ctx, stop := context.WithTimeout(context.Background(), 10*took+10*time.Second)
		_, err := tests[0].suite.run(ctx, []string{"MUTANT=" + strconv.Itoa(s.number)}, "-test.short", "-test.failfast", "-test.run", "^("+names+")$")
		stop()
		if err != nil {
			return tests[0].name
		}
		tests = tests[n:]
	}
	return ""
}
