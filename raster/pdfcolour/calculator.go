package pdfcolour

import (
	"bytes"
	"math"
	"strconv"
	"sync"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

const (
	// mostStack is the depth of the calculator's stack that readers must support (ISO 32000-1, 7.10.5.1: at least 100).
	mostStack = 100
	// mostOperators bounds the length of a calculator function, and so its running time, for it has no loops.
	mostOperators = 100_000
)

// calculator is a function of type 4 (7.10.5).
type calculator struct {
	clipped
	code []instruction
}

// instruction is a number to push (op nil), an operator, or the two arms of if and ifelse.
type instruction struct {
	op        operator
	push      value
	arm, els  []instruction
	condition bool
}

// value is a number, real or whole, or a truth value. Whole numbers are exact in float64.
type value struct {
	v    float64
	kind valueKind
}

type valueKind uint8

const (
	whole valueKind = iota
	real
	truth
)

type operator func(m *machine)

func (r *Reader) readCalculator(sd types.StreamDict, c clipped) (function, error) {
	data, err := r.decode(sd, -1)
	if err != nil {
		return nil, err
	}
	p := parser{words: words(data)}
	code, ok := p.program()
	if !ok {
		return nil, fault("a calculated colour function is not a valid program")
	}
	f := &calculator{clipped: c, code: code}
	if !f.works() {
		return nil, fault("a calculated colour function fails to leave its %d results", len(c.rng)/2)
	}
	return f, nil
}

func (f *calculator) sizes() (int, int) { return len(f.domain) / 2, len(f.rng) / 2 }

// works tries the function in the middle and at both ends of its domain.
func (f *calculator) works() bool {
	in := make([]float64, len(f.domain)/2)
	for _, part := range []float64{0, 0.5, 1} {
		for i := range in {
			in[i] = f.domain[2*i] + part*(f.domain[2*i+1]-f.domain[2*i])
		}
		m, ok := f.run(in)
		if machines.Put(m); !ok {
			return false
		}
	}
	return true
}

// machines saves making one for each colour of a picture.
var machines = sync.Pool{New: func() any { return &machine{} }}

// run gives a machine of the pool after the program, and whether it worked.
func (f *calculator) run(in []float64) (*machine, bool) {
	m := machines.Get().(*machine)
	m.n, m.failed = 0, false
	for i := range len(f.domain) / 2 {
		m.push(clamp(in[i], f.domain[2*i], f.domain[2*i+1]), real)
	}
	m.run(f.code)
	return m, !m.failed && m.n >= len(f.rng)/2
}

// eval gives the least of its range where the program fails, as where it divides by zero: works has found that it mostly does not.
func (f *calculator) eval(dst, in []float64) {
	m, ok := f.run(in)
	defer machines.Put(m)
	outputs := len(f.rng) / 2
	for i := range outputs {
		dst[i] = f.rng[2*i]
		if ok {
			dst[i] = m.stack[m.n-outputs+i].v
		}
	}
	f.clipOut(dst)
}

// words cuts a program into braces, numbers and names, without comments.
func words(data []byte) [][]byte {
	var out [][]byte
	for len(data) > 0 && len(out) <= mostOperators {
		switch c := data[0]; {
		case c == '%':
			end := bytes.IndexAny(data, "\r\n")
			if end < 0 {
				return out
			}
			data = data[end:]
		case isSpace(c):
			data = data[1:]
		case c == '{' || c == '}':
			out = append(out, data[:1])
			data = data[1:]
		default:
			end := 1
			for end < len(data) && !isSpace(data[end]) && data[end] != '{' && data[end] != '}' && data[end] != '%' {
				end++
			}
			out = append(out, data[:end])
			data = data[end:]
		}
	}
	return out
}

func isSpace(c byte) bool {
	return c == 0 || c == '\t' || c == '\n' || c == '\f' || c == '\r' || c == ' '
}

type parser struct {
	words [][]byte
	depth int
}

func (p *parser) program() ([]instruction, bool) {
	if len(p.words) == 0 || len(p.words) > mostOperators || p.words[0][0] != '{' {
		return nil, false
	}
	p.words = p.words[1:]
	return p.block()
}

// block reads up to the brace that closes it.
func (p *parser) block() (code []instruction, ok bool) {
	if p.depth++; p.depth > 2*mostNesting {
		return nil, false
	}
	defer func() { p.depth-- }()
	var arms [][]instruction
	for len(p.words) > 0 {
		word := string(p.words[0])
		p.words = p.words[1:]
		switch {
		case word == "{":
			arm, ok := p.block()
			if !ok || len(arms) == 2 {
				return nil, false
			}
			arms = append(arms, arm)
			continue
		case word == "if" && len(arms) == 1:
			code = append(code, instruction{condition: true, arm: arms[0]})
			arms = nil
			continue
		case word == "ifelse" && len(arms) == 2:
			code = append(code, instruction{condition: true, arm: arms[0], els: arms[1]})
			arms = nil
			continue
		case len(arms) > 0:
			return nil, false
		case word == "}":
			return code, true
		}
		step, ok := parseWord(word)
		if !ok {
			return nil, false
		}
		code = append(code, step)
	}
	return nil, false
}

func parseWord(word string) (instruction, bool) {
	if op, ok := operators[word]; ok {
		return instruction{op: op}, true
	}
	if i, err := strconv.ParseInt(word, 10, 32); err == nil {
		return instruction{push: value{float64(i), whole}}, true
	}
	v, err := strconv.ParseFloat(word, 64)
	if err != nil || !isFinite(v) {
		return instruction{}, false
	}
	return instruction{push: value{v, real}}, true
}

// machine has the stack of one evaluation. After a failure it does nothing more.
type machine struct {
	stack  [mostStack]value
	n      int
	failed bool
}

func (m *machine) run(code []instruction) {
	for i := range code {
		step := &code[i]
		switch {
		case m.failed:
			return
		case step.condition && m.popTruth():
			m.run(step.arm)
		case step.condition:
			m.run(step.els)
		case step.op != nil:
			step.op(m)
		default:
			m.push(step.push.v, step.push.kind)
		}
	}
}

func (m *machine) push(v float64, kind valueKind) {
	if m.n == mostStack || !isFinite(v) {
		m.failed = true
		return
	}
	m.stack[m.n] = value{v, kind}
	m.n++
}

func (m *machine) pushTruth(b bool) {
	if b {
		m.push(1, truth)
	} else {
		m.push(0, truth)
	}
}

func (m *machine) pop() value {
	if m.n == 0 {
		m.failed = true
		return value{}
	}
	m.n--
	return m.stack[m.n]
}

func (m *machine) popNumber() value {
	v := m.pop()
	m.failed = m.failed || v.kind == truth
	return v
}

func (m *machine) popWhole() int {
	v := m.pop()
	m.failed = m.failed || v.kind != whole
	return int(v.v)
}

func (m *machine) popTruth() bool {
	v := m.pop()
	m.failed = m.failed || v.kind != truth
	return !m.failed && v.v != 0
}

// one makes an operator of a function of a number that keeps its kind.
func one(f func(float64) float64) operator {
	return func(m *machine) {
		v := m.popNumber()
		m.push(f(v.v), v.kind)
	}
}

// toReal makes an operator of a function of a number the result of which is real.
func toReal(f func(float64) float64) operator {
	return func(m *machine) { m.push(f(m.popNumber().v), real) }
}

// two makes an operator of a function of two numbers that is whole if both are.
func two(f func(a, b float64) float64) operator {
	return func(m *machine) {
		b, a := m.popNumber(), m.popNumber()
		kind := max(a.kind, b.kind)
		v := f(a.v, b.v)
		if math.Abs(v) > math.MaxInt32 {
			kind = real
		}
		m.push(v, kind)
	}
}

func twoToReal(f func(a, b float64) float64) operator {
	return func(m *machine) {
		b, a := m.popNumber(), m.popNumber()
		m.push(f(a.v, b.v), real)
	}
}

// twoWhole makes an operator of a function of two whole numbers; it fails where f says so.
func twoWhole(f func(a, b int) (int, bool)) operator {
	return func(m *machine) {
		b, a := m.popWhole(), m.popWhole()
		v, ok := 0, false
		if !m.failed {
			v, ok = f(a, b)
		}
		m.failed = m.failed || !ok
		m.push(float64(int32(v)), whole)
	}
}

func compare(f func(a, b float64) bool) operator {
	return func(m *machine) {
		b, a := m.popNumber(), m.popNumber()
		m.pushTruth(f(a.v, b.v))
	}
}

// alike pushes equal if the two values on top are equal; a number never equals a truth value.
func alike(equal bool) operator {
	return func(m *machine) {
		b, a := m.pop(), m.pop()
		m.pushTruth((a.v == b.v && (a.kind == truth) == (b.kind == truth)) == equal)
	}
}

// logic makes an operator that works on two truth values or on the bits of two whole numbers.
func logic(f func(a, b int) int) operator {
	return func(m *machine) {
		b, a := m.pop(), m.pop()
		m.failed = m.failed || a.kind != b.kind || a.kind == real
		m.push(float64(f(int(a.v), int(b.v))), a.kind)
	}
}

func degrees(v float64) float64 { return v * math.Pi / 180 }

// operators are those of ISO 32000-1, Table 42, and their meaning that of PostScript. Exp and the like fail where the result is not finite.
var operators = map[string]operator{
	"abs":      one(math.Abs),
	"neg":      one(func(v float64) float64 { return -v }),
	"ceiling":  one(math.Ceil),
	"floor":    one(math.Floor),
	"round":    one(func(v float64) float64 { return math.Floor(v + 0.5) }),
	"truncate": one(math.Trunc),
	"sqrt":     toReal(math.Sqrt),
	"ln":       toReal(math.Log),
	"log":      toReal(math.Log10),
	"sin":      toReal(func(v float64) float64 { return math.Sin(degrees(math.Mod(v, 360))) }),
	"cos":      toReal(func(v float64) float64 { return math.Cos(degrees(math.Mod(v, 360))) }),
	"cvr":      toReal(func(v float64) float64 { return v }),
	"cvi": func(m *machine) {
		v := math.Trunc(m.popNumber().v)
		m.failed = m.failed || math.Abs(v) > math.MaxInt32
		m.push(v, whole)
	},
	"add": two(func(a, b float64) float64 { return a + b }),
	"sub": two(func(a, b float64) float64 { return a - b }),
	"mul": two(func(a, b float64) float64 { return a * b }),
	"div": twoToReal(func(a, b float64) float64 { return a / b }),
	"exp": twoToReal(math.Pow),
	"atan": twoToReal(func(a, b float64) float64 {
		return math.Mod(math.Atan2(a, b)*180/math.Pi+360, 360)
	}),
	"idiv": twoWhole(func(a, b int) (int, bool) {
		if b == 0 {
			return 0, false
		}
		return a / b, true
	}),
	"mod": twoWhole(func(a, b int) (int, bool) {
		if b == 0 {
			return 0, false
		}
		return a % b, true
	}),
	"bitshift": twoWhole(func(a, b int) (int, bool) {
		switch {
		case b <= -32 || b >= 32:
			return 0, true
		case b < 0:
			return int(uint32(a) >> -b), true
		}
		return a << b, true
	}),
	"eq":    alike(true),
	"ne":    alike(false),
	"lt":    compare(func(a, b float64) bool { return a < b }),
	"le":    compare(func(a, b float64) bool { return a <= b }),
	"gt":    compare(func(a, b float64) bool { return a > b }),
	"ge":    compare(func(a, b float64) bool { return a >= b }),
	"and":   logic(func(a, b int) int { return a & b }),
	"or":    logic(func(a, b int) int { return a | b }),
	"xor":   logic(func(a, b int) int { return a ^ b }),
	"true":  func(m *machine) { m.pushTruth(true) },
	"false": func(m *machine) { m.pushTruth(false) },
	"not": func(m *machine) {
		switch v := m.pop(); v.kind {
		case truth:
			m.push(1-v.v, truth)
		case whole:
			m.push(float64(^int(v.v)), whole)
		default:
			m.failed = true
		}
	},
	"pop": func(m *machine) { m.pop() },
	"dup": func(m *machine) {
		v := m.pop()
		m.push(v.v, v.kind)
		m.push(v.v, v.kind)
	},
	"exch": func(m *machine) {
		b, a := m.pop(), m.pop()
		m.push(b.v, b.kind)
		m.push(a.v, a.kind)
	},
	"copy": func(m *machine) {
		n := m.popWhole()
		if m.failed || n < 0 || n > m.n || m.n+n > mostStack {
			m.failed = true
			return
		}
		copy(m.stack[m.n:], m.stack[m.n-n:m.n])
		m.n += n
	},
	"index": func(m *machine) {
		n := m.popWhole()
		if m.failed || n < 0 || n >= m.n {
			m.failed = true
			return
		}
		v := m.stack[m.n-1-n]
		m.push(v.v, v.kind)
	},
	"roll": func(m *machine) {
		by, n := m.popWhole(), m.popWhole()
		if m.failed || n < 0 || n > m.n {
			m.failed = true
			return
		}
		if n == 0 {
			return
		}
		var old [mostStack]value
		top := m.stack[m.n-n : m.n]
		copy(old[:], top)
		for i := range top {
			top[((i+by)%n+n)%n] = old[i]
		}
	},
}
