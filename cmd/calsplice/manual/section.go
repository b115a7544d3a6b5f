package manual

import (
	_ "embed"
	"slices"
	"strings"
	"sync"

	"calsplice/tables"
)

//go:embed help.txt
var texts string

// Section is what help.txt says of a command, of a topic, or of flags that several
// commands share:
//
//	= NAME ARGUMENT...
//	what it is for
//	--flag, -f  what it does
//	--flag VALUE  what it does; VALUE is what to type
//	--flag ONE|OTHER  the same, where the values are few
//	--flag VALUE:=DEFAULT  the same, with what stands where it is not given
//	--flag VALUE+  one that may be given several times
//	& NAME...  the flags of another section, or one that other commands have too
//
// and, behind a blank line, paragraphs and examples.
type Section struct {
	Name, Arguments, Usage, Text string

	lines []string
	once  sync.Once
	flags []Declared
}

// Declared is a flag as help.txt has it.
type Declared struct {
	Names          []string // the first is the flag's own
	Value, Default string
	Many           bool
	Usage          string
	Topic          string // what the section is for whose flag it is; "" is the command's own
}

// Typed is the flag as it is typed, by each of its names, with what to type behind
// them.
func (d Declared) Typed() string {
	names := tables.Each(d.Names, func(n string) string { return "--"[:min(len(n), 2)] + n })
	return strings.TrimSpace(strings.Join(names, ", ") + " " + d.Value)
}

// Choices are the values that may be typed, where help.txt lists them.
func (d Declared) Choices() []string {
	if !strings.Contains(d.Value, "|") {
		return nil
	}
	return strings.Split(d.Value, "|")
}

// Does is what the flag does, and what stands where it is not given.
func (d Declared) Does() string {
	if d.Default == "" {
		return d.Usage
	}
	return d.Usage + " (default: " + d.Default + ")"
}

// sections are all of help.txt, by name.
var sections = sync.OnceValue(func() map[string]*Section {
	all := map[string]*Section{}
	for _, s := range Read(texts) {
		all[s.Name] = s
	}
	return all
})

// Read takes sections out of a text.
func Read(text string) (list []*Section) {
	for _, part := range strings.Split("\n"+text, "\n= ")[1:] {
		head, rest, _ := strings.Cut(part, "\n")
		usage, rest, _ := strings.Cut(rest, "\n")
		flags, text, _ := strings.Cut("\n"+rest, "\n\n")
		var name []string
		words := strings.Fields(head)
		for len(words) > 0 && strings.Trim(words[0], "abcdefghijklmnopqrstuvwxyz-") == "" {
			name, words = append(name, words[0]), words[1:]
		}
		list = append(list, &Section{Name: strings.Join(name, " "), Arguments: strings.Join(words, " "), Usage: usage,
			Text: strings.Trim(text, "\n"), lines: strings.Split(strings.Trim(flags, "\n"), "\n")})
	}
	return list
}

// Word is the last word of the name: of a group's command, the one behind the group's.
func (s *Section) Word() string { return s.Name[strings.LastIndexByte(s.Name, ' ')+1:] }

// Below are the commands of a group; "" is the program.
func Below(list []*Section, group string) (below []*Section) {
	for _, s := range list {
		if strings.TrimSpace(group+" "+s.Word()) == s.Name {
			below = append(below, s)
		}
	}
	return below
}

// Of is the section of a command or topic; an empty one where there is none.
func Of(name string) *Section {
	if s := sections()[name]; s != nil {
		return s
	}
	return &Section{}
}

// Flags are the section's, in its order; of several with one name only the first.
func (s *Section) Flags() []Declared {
	s.once.Do(func() { s.flags = s.read() })
	return slices.Clone(s.flags)
}

// read is Flags, read from help.txt.
func (s *Section) read() (list []Declared) {
	add := func(d Declared) {
		if !slices.ContainsFunc(list, func(o Declared) bool { return o.Names[0] == d.Names[0] }) {
			list = append(list, d)
		}
	}
	for _, line := range s.lines {
		names, others := strings.CutPrefix(line, "& ")
		switch {
		case line == "":
		case !others:
			add(declared(line))
		default:
			for name := range strings.FieldsSeq(names) {
				for _, d := range taken(name) {
					add(d)
				}
			}
		}
	}
	return list
}

// taken are the flags that a name behind "&" refers to.
func taken(name string) []Declared {
	if s := sections()[name]; s != nil {
		return s.as(s.Usage)
	}
	one := func(d Declared) bool { return d.Names[0] != name }
	logs := Of("logs")
	return append(slices.DeleteFunc(Of("shared").Flags(), one), slices.DeleteFunc(logs.as(logs.Usage), one)...)
}

func (s *Section) as(topic string) []Declared {
	list := s.Flags()
	for i := range list {
		list[i].Topic = topic
	}
	return list
}

func declared(line string) (d Declared) {
	left, usage, _ := strings.Cut(line, "  ")
	d.Usage = usage
	for n := range strings.SplitSeq(left, ", -") {
		n, d.Value, _ = strings.Cut(n, " ")
		d.Names = append(d.Names, strings.TrimLeft(n, "-"))
	}
	d.Value, d.Default, _ = strings.Cut(d.Value, ":=")
	d.Value, d.Many = strings.CutSuffix(d.Value, "+")
	return d
}
