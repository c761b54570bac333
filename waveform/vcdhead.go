package waveform

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
)

const (
	maxVariables = 1 << 13 // each takes about a kilobyte on its way to the result
	maxNames     = 2 * maxVariables
	maxName      = 200 // bytes of a name with its scopes; of longer ones the end is kept
	maxVCDHead   = 4 << 20
	maxBits      = 1 << 16
)

// vcdVariable is one identifier code and what it stands for.
type vcdVariable struct {
	names []string
	kind  string // wire, reg, real, ...
	size  int
	ch    int
	isBit bool // bit(), kept for the hot loop
}

func (v *vcdVariable) real() bool  { return v.kind == "real" || v.kind == "realtime" }
func (v *vcdVariable) event() bool { return v.kind == "event" }
func (v *vcdVariable) bit() bool   { return v.size == 1 && !v.real() && !v.event() && v.kind != "string" }

// vcdLayout is what stands before $enddefinitions (IEEE 1364-2005 clause 18.2).
type vcdLayout struct {
	vars     []vcdVariable
	one      [256]int32 // variable of a one-character code; -1 none
	two      []int32    // of a two-character code
	more     map[string]int32
	mul, div float64 // seconds = ticks·mul/div
	body     int64
	names    int // kept in all
	warnings []Warning
}

func (l *vcdLayout) seconds(tick uint64) Second { return Second(float64(tick) * l.mul / l.div) }

// lookup finds the variable of a code; -1 when it was not declared.
func (l *vcdLayout) lookup(code []byte) int32 {
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

func (l *vcdLayout) declare(code string, v int32) {
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

// vcdTokens cuts the head into words, asking for more of it as needed.
type vcdTokens struct {
	src *source
	pos int
	at  int // where the last word began
}

func (t *vcdTokens) next() []byte {
	for {
		b := t.src.head
		i := t.pos
		for i < len(b) && b[i] <= ' ' {
			i++
		}
		j := i
		for j < len(b) && b[j] > ' ' {
			j++
		}
		if j < len(b) || !t.grow() {
			t.at, t.pos = i, j
			return b[i:j]
		}
	}
}

func (t *vcdTokens) grow() bool {
	n := len(t.src.head)
	if n >= maxVCDHead {
		return false
	}
	t.src.fillHead(min(2*n, maxVCDHead))
	return len(t.src.head) > n
}

// vcdHead reads the declarations.
func vcdHead(src *source) (*vcdLayout, *Problem) {
	l := &vcdLayout{more: map[string]int32{}}
	for i := range l.one {
		l.one[i] = -1
	}
	t := &vcdTokens{src: src}
	if bytes.HasPrefix(src.head, []byte{0xef, 0xbb, 0xbf}) {
		t.pos = 3
	}
	var scopes []string // each with those around it
	for {
		w := string(t.next())
		at := int64(t.at)
		if w == "" {
			if len(src.head) >= maxVCDHead {
				return nil, problemAtByte(ErrImpossible, at, "leave out what is not needed", "the declarations do not end within %d MiB", maxVCDHead>>20)
			}
			return nil, problemAtByte(ErrTruncated, at, "copy the file again", "the file ends within its declarations: $enddefinitions is missing")
		}
		if w[0] != '$' {
			return nil, problemAtByte(ErrMalformed, at, "a keyword such as $var is expected", "%q stands among the declarations", clip([]byte(w)))
		}
		var args []string
		for {
			a := t.next()
			if len(a) == 0 {
				return nil, problemAtByte(ErrTruncated, at, "copy the file again", "the file ends within %s", clip([]byte(w)))
			}
			if string(a) == "$end" {
				break
			}
			if len(args) < 64 {
				args = append(args, string(a))
			}
		}
		switch w {
		case "$timescale":
			if p := l.timescale(strings.Join(args, ""), at); p != nil {
				return nil, p
			}
		case "$scope":
			name := ""
			if len(args) > 1 {
				name = args[1]
			}
			if scopes = append(scopes, scoped(scopes, name)); len(scopes) > 1000 {
				return nil, problemAtByte(ErrMalformed, at, "copy the file again, or save it anew", "scopes are nested more than 1000 deep")
			}
		case "$upscope":
			if len(scopes) == 0 {
				return nil, problemAtByte(ErrMalformed, at, "copy the file again, or save it anew", "$upscope without a scope")
			}
			scopes = scopes[:len(scopes)-1]
		case "$var":
			if p := l.variable(args, scopes, at); p != nil {
				return nil, p
			}
		case "$enddefinitions":
			l.body = int64(t.pos)
			if l.div == 0 {
				l.mul, l.div = 1, 1
				l.warnings = append(l.warnings, Warning{Byte: at, Channel: -1, Text: "no $timescale: one tick is taken as one second (assumed)"})
			}
			if len(l.vars) == 0 {
				return nil, problemAtByte(ErrImpossible, at, "record at least one signal", "no variable is declared")
			}
			return l, nil
		case "$date", "$version", "$comment":
		case "$dumpports":
			return nil, extendedVCD(at)
		default:
			if w == "$dumpvars" || w == "$dumpall" {
				return nil, problemAtByte(ErrMalformed, at, "copy the file again, or save it anew", "%s stands before $enddefinitions", w)
			}
			l.warnings = append(l.warnings, Warning{Byte: at, Channel: -1, Text: fmt.Sprintf("%s is not known and was passed over", clip([]byte(w)))})
		}
	}
}

func extendedVCD(at int64) *Problem {
	return problemAtByte(ErrMalformed, at, "write a plain four-state VCD ($dumpvars)", "this is an extended VCD with ports, which is not read")
}

// timescale reads "1ns", "10ms", "100s".
func (l *vcdLayout) timescale(s string, at int64) *Problem {
	i := 0
	for i < len(s) && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	exp := map[string]int{"s": 0, "ms": 3, "us": 6, "ns": 9, "ps": 12, "fs": 15}
	e, ok := exp[s[i:]]
	if n := s[:i]; !ok || n != "1" && n != "10" && n != "100" {
		return problemAtByte(ErrMalformed, at, "write 1, 10 or 100 and s, ms, us, ns, ps or fs", "the timescale %q is not one", clip([]byte(s)))
	}
	mul, _ := strconv.ParseFloat(s[:i], 64)
	l.mul, l.div = mul, pow10[e]
	return nil
}

// scoped is a name within the innermost scope. Without a bound on its length a small file could ask for gigabytes.
func scoped(scopes []string, name string) string {
	scope, dot := "", ""
	if n := len(scopes); n > 0 {
		scope, dot = scopes[n-1], "."
	}
	cut := ""
	if over := len(scope) + len(dot) + len(name) - maxName; over > 0 {
		cut, scope = "…", scope[min(over, len(scope)):]
		name = name[max(0, len(name)-maxName):]
	}
	return strings.ToValidUTF8(cut+scope+dot+name, "�")
}

// variable reads "wire 4 ! name [3:0]".
func (l *vcdLayout) variable(args, scopes []string, at int64) *Problem {
	if len(args) < 4 {
		return problemAtByte(ErrMalformed, at, "write $var type size code name $end", "$var has %d words", len(args))
	}
	if args[0] == "port" {
		return extendedVCD(at)
	}
	size, err := strconv.Atoi(args[1])
	if err != nil || size < 0 || size > maxBits {
		return problemAtByte(ErrMalformed, at, "copy the file again, or save it anew", "the size %q of variable %q is not 1 to %d bits", clip([]byte(args[1])), clip([]byte(args[3])), maxBits)
	}
	code := args[2]
	for i := range len(code) {
		if code[i] < '!' || code[i] > '~' {
			return problemAtByte(ErrMalformed, at, "copy the file again, or save it anew", "the code of variable %q is not printable", clip([]byte(args[3])))
		}
	}
	name := args[3]
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
		o := &l.vars[v]
		if o.real() != (args[0] == "real" || args[0] == "realtime") || (o.size != size && !o.real()) {
			return problemAtByte(ErrMalformed, at, "copy the file again, or save it anew", "code %q stands for %s of %d bits and for %s of %d bits", code, o.kind, o.size, args[0], size)
		}
		if len(o.names) < 1000 && l.names <= maxNames {
			o.names = append(o.names, scoped(scopes, name))
		}
		return nil
	}
	if len(l.vars) >= maxVariables {
		return problemAtByte(ErrImpossible, at, "leave out what is not needed", "more than %d variables", maxVariables)
	}
	l.declare(code, int32(len(l.vars)))
	l.vars = append(l.vars, vcdVariable{names: []string{scoped(scopes, name)}, kind: args[0], size: size})
	return nil
}
