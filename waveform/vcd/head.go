// Package vcd reads logic changes (value change dump, IEEE 1364-2005 clause 18): bits, vectors, reals, events. It gives
// the declared wires and the changes in order; what they mean is told elsewhere.
package vcd

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"

	"phasewright/waveform/block"
)

const (
	MaxVariables = 1 << 13 // each takes about a kilobyte on its way to the result
	MaxNames     = 2 * MaxVariables
	MaxName      = 200 // bytes of a name with its scopes; of longer ones the end is kept
	maxHead      = 4 << 20
	maxBits      = 1 << 16
)

// Sort is what a variable holds.
type Sort uint8

// Sorts of variable.
const (
	Bit Sort = iota
	Real
	Word  // several bits, an integer, a string
	Event // has no value: each time it is named, it happens
)

// Variable is one identifier code and what it stands for.
type Variable struct {
	Names []string // with their scopes; more than one where wires are declared as one
	Sort  Sort
	kind  string // as declared: wire, reg, real, ...
	size  int
}

func sortOf(kind string, size int) Sort {
	switch {
	case kind == "real" || kind == "realtime":
		return Real
	case kind == "event":
		return Event
	case size == 1 && kind != "string":
		return Bit
	}
	return Word
}

// Layout is what stands before $enddefinitions (clause 18.2).
type Layout struct {
	Variables []Variable
	Body      int64 // byte where the changes begin
	Warnings  []block.Warning

	one      [256]int32 // variable of a one-character code; -1 none
	two      []int32    // of a two-character code
	more     map[string]int32
	mul, div float64 // seconds = ticks·mul/div
	names    int     // in all
}

// Seconds is the instant of a time stamp.
func (l *Layout) Seconds(tick uint64) block.Second {
	return block.Second(float64(tick) * l.mul / l.div)
}

// lookup finds the variable of a code; -1 when it was not declared.
func (l *Layout) lookup(code []byte) int32 {
	switch len(code) {
	case 1:
		return l.one[code[0]]
	case 2:
		if i := int(code[0])<<8 | int(code[1]); i < len(l.two) {
			return l.two[i]
		}
		return -1
	}
	if v, ok := l.more[string(code)]; ok {
		return v
	}
	return -1
}

func (l *Layout) declare(code string, v int32) {
	switch len(code) {
	case 1:
		l.one[code[0]] = v
	case 2:
		if l.two == nil {
			l.two = make([]int32, 1<<16)
			for i := range l.two {
				l.two[i] = -1
			}
		}
		l.two[int(code[0])<<8|int(code[1])] = v
	default:
		l.more[code] = v
	}
}

const (
	copyAgain = "copy the file again"
	saveAnew  = "copy the file again, or save it anew"
)

// tokens cuts the head into words.
type tokens struct {
	r   *bufio.Reader
	pos int64 // behind the last word
	at  int64 // where it began
	buf []byte
}

// next gives a word; nothing where the head ends.
func (t *tokens) next() []byte {
	t.buf = t.buf[:0]
	for t.pos < maxHead {
		c, err := t.r.ReadByte()
		if err != nil {
			break
		}
		if t.pos++; c > ' ' {
			if len(t.buf) == 0 {
				t.at = t.pos - 1
			}
			t.buf = append(t.buf, c)
		} else if len(t.buf) > 0 {
			t.pos-- // the blank is not part of the head
			t.r.UnreadByte()
			return t.buf
		}
	}
	if len(t.buf) == 0 {
		t.at = t.pos
	}
	return t.buf
}

// Head reads the declarations.
func Head(r io.Reader) (*Layout, *block.Problem) {
	l := &Layout{more: map[string]int32{}}
	for i := range l.one {
		l.one[i] = -1
	}
	t := &tokens{r: bufio.NewReader(r)}
	if mark, _ := t.r.Peek(3); string(mark) == "\xef\xbb\xbf" {
		t.r.Discard(3)
		t.pos = 3
	}
	var scopes []string // each with those around it
	for {
		w := string(t.next())
		at := t.at
		switch {
		case w == "" && t.pos >= maxHead:
			return nil, block.AtByte(block.ErrImpossible, at, "leave out what is not needed",
				"the declarations do not end within %d MiB", maxHead>>20)
		case w == "":
			return nil, block.AtByte(block.ErrTruncated, at, copyAgain,
				"the file ends within its declarations: $enddefinitions is missing")
		case w[0] != '$':
			return nil, block.AtByte(block.ErrMalformed, at, "a keyword such as $var is expected",
				"%q stands among the declarations", block.Clip(w))
		}
		args, p := t.arguments(w, at)
		if p != nil {
			return nil, p
		}
		switch w {
		case "$timescale":
			p = l.timescale(strings.Join(args, ""), at)
		case "$scope":
			name := ""
			if len(args) > 1 {
				name = args[1]
			}
			if scopes = append(scopes, scoped(scopes, name)); len(scopes) > 1000 {
				p = block.AtByte(block.ErrMalformed, at, saveAnew, "scopes are nested more than 1000 deep")
			}
		case "$upscope":
			if len(scopes) == 0 {
				return nil, block.AtByte(block.ErrMalformed, at, saveAnew, "$upscope without a scope")
			}
			scopes = scopes[:len(scopes)-1]
		case "$var":
			p = l.variable(args, scopes, at)
		case "$enddefinitions":
			l.Body = t.pos
			if p := l.finish(at); p != nil {
				return nil, p
			}
			return l, nil
		case "$date", "$version", "$comment":
		case "$dumpports":
			p = extended(at)
		case "$dumpvars", "$dumpall":
			p = block.AtByte(block.ErrMalformed, at, saveAnew, "%s stands before $enddefinitions", w)
		default:
			l.warn(at, "%s is not known and was passed over", block.Clip(w))
		}
		if p != nil {
			return nil, p
		}
	}
}

// arguments reads the words of a block up to its $end; of many the first 64 are kept.
func (t *tokens) arguments(of string, at int64) (args []string, p *block.Problem) {
	for {
		switch a := t.next(); {
		case len(a) == 0:
			return nil, block.AtByte(block.ErrTruncated, at, copyAgain, "the file ends within %s", block.Clip(of))
		case string(a) == "$end":
			return args, nil
		case len(args) < 64:
			args = append(args, string(a))
		}
	}
}

func (l *Layout) warn(at int64, format string, args ...any) {
	l.Warnings = append(l.Warnings, block.Warning{Byte: at, Channel: -1, Text: fmt.Sprintf(format, args...)})
}

// finish looks at what was declared, at the end of the declarations.
func (l *Layout) finish(at int64) *block.Problem {
	if l.div == 0 {
		l.mul, l.div = 1, 1
		l.warn(at, "no $timescale: one tick is taken as one second (assumed)")
	}
	if len(l.Variables) == 0 {
		return block.AtByte(block.ErrImpossible, at, "record at least one signal", "no variable is declared")
	}
	return nil
}

func extended(at int64) *block.Problem {
	return block.AtByte(block.ErrMalformed, at, "write a plain four-state VCD ($dumpvars)",
		"this is an extended VCD with ports, which is not read")
}

// timescale reads "1ns", "10ms", "100s".
func (l *Layout) timescale(s string, at int64) *block.Problem {
	i := 0
	for i < len(s) && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	per := map[string]float64{"s": 1, "ms": 1e3, "us": 1e6, "ns": 1e9, "ps": 1e12, "fs": 1e15}
	div, ok := per[s[i:]]
	if n := s[:i]; !ok || n != "1" && n != "10" && n != "100" {
		return block.AtByte(block.ErrMalformed, at, "write 1, 10 or 100 and s, ms, us, ns, ps or fs",
			"the timescale %q is not one", block.Clip(s))
	}
	l.mul, _ = strconv.ParseFloat(s[:i], 64)
	l.div = div
	return nil
}

// scoped is a name within the innermost scope. Without a bound on its length a small file could ask for gigabytes.
func scoped(scopes []string, name string) string {
	scope, dot := "", ""
	if n := len(scopes); n > 0 {
		scope, dot = scopes[n-1], "."
	}
	cut := ""
	if over := len(scope) + len(dot) + len(name) - MaxName; over > 0 {
		cut, scope = "…", scope[min(over, len(scope)):]
		name = name[max(0, len(name)-MaxName):]
	}
	return strings.ToValidUTF8(cut+scope+dot+name, "�")
}

// variable reads "wire 4 ! name [3:0]".
func (l *Layout) variable(args, scopes []string, at int64) *block.Problem {
	if len(args) < 4 {
		return block.AtByte(block.ErrMalformed, at, "write $var type size code name $end", "$var has %d words",
			len(args))
	}
	if args[0] == "port" {
		return extended(at)
	}
	kind, code, name := args[0], args[2], args[3]
	size, err := strconv.Atoi(args[1])
	if err != nil || size < 0 || size > maxBits {
		return block.AtByte(block.ErrMalformed, at, saveAnew, "the size %q of variable %q is not 1 to %d bits",
			block.Clip(args[1]), block.Clip(name), maxBits)
	}
	for i := range len(code) {
		if code[i] < '!' || code[i] > '~' {
			return block.AtByte(block.ErrMalformed, at, saveAnew, "the code of variable %q is not printable",
				block.Clip(name))
		}
	}
	index := strings.Join(args[4:], "")
	if index == "" {
		if k := strings.IndexByte(name, '['); k > 0 && strings.HasSuffix(name, "]") && size > 1 {
			name = name[:k]
		}
	} else if size == 1 || !strings.HasPrefix(index, "[") {
		name += index // one bit of several that share the name
	}
	l.names++
	if v := l.lookup([]byte(code)); v >= 0 {
		o := &l.Variables[v]
		if real := o.Sort == Real; real != (sortOf(kind, size) == Real) || o.size != size && !real {
			return block.AtByte(block.ErrMalformed, at, saveAnew,
				"code %q stands for %s of %d bits and for %s of %d bits",
				code, o.kind, o.size, kind, size)
		}
		if len(o.Names) < 1000 && l.names <= MaxNames {
			o.Names = append(o.Names, scoped(scopes, name))
		}
		return nil
	}
	if len(l.Variables) >= MaxVariables {
		return block.AtByte(block.ErrImpossible, at, "leave out what is not needed", "more than %d variables",
			MaxVariables)
	}
	l.declare(code, int32(len(l.Variables)))
	l.Variables = append(l.Variables, Variable{[]string{scoped(scopes, name)}, sortOf(kind, size), kind, size})
	return nil
}
