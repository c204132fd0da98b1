package pdfcolour

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster"
)

func near(a, b, by float64) bool { return math.Abs(a-b) <= by }

// readFunction reads a function from its objects, the first of which it is.
func readFunction(t *testing.T, objects ...string) function {
	t.Helper()
	f, err := reader(t, nil, objects...).function(ref(0))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func eval(f function, in ...float64) []float64 {
	_, n := f.sizes()
	out := make([]float64, n)
	f.eval(out, in)
	return out
}

// Values from the descriptions of the operators in the PostScript Language Reference, third edition, chapter 8 (from memory), except
// those marked; all agree with Ghostscript 10.
func TestCalculatorOperators(t *testing.T) {
	tests := []struct{ program, want string }{
		{"4.5 abs", "4.5"}, {"-3 abs", "3"}, {"3 4 add", "7"}, {"9.9 1.1 add", "11"},
		{"0 1 atan", "0"}, {"1 0 atan", "90"}, {"-100 0 atan", "270"}, {"4 4 atan", "45"},
		{"3.2 ceiling", "4"}, {"-4.8 ceiling", "-4"}, {"99 ceiling", "99"}, {"0 cos", "1"}, {"90 cos", "0"},
		{"-47.8 cvi", "-47"}, {"520.9 cvi", "520"}, {"3 2 div", "1.5"}, {"4 2 div", "2"},
		{"9 0.5 exp", "3"}, {"-9 -1 exp", "-0.111111"}, {"3.2 floor", "3"}, {"-4.8 floor", "-5"},
		{"3 2 idiv", "1"}, {"4 2 idiv", "2"}, {"-5 2 idiv", "-2"}, {"10 ln", "2.30259"}, {"100 ln", "4.60517"},
		{"10 log", "1"}, {"100 log", "2"}, {"5 3 mod", "2"}, {"5 2 mod", "1"}, {"-5 3 mod", "-2"},
		{"4.5 neg", "-4.5"}, {"-3 neg", "3"}, {"3.2 round", "3"}, {"6.5 round", "7"}, {"-4.8 round", "-5"}, {"-6.5 round", "-6"},
		{"0 sin", "0"}, {"30 sin", "0.5"}, {"4 sqrt", "2"}, {"3.2 truncate", "3"}, {"-4.8 truncate", "-4"},
		{"7 3 bitshift", "56"}, {"142 -3 bitshift", "17"}, {"52 not", "-53"}, {"true not", "false"},
		{"99 1 and", "1"}, {"52 7 and", "4"}, {"true false and", "false"}, {"17 5 or", "21"}, {"7 3 xor", "4"}, {"12 3 xor", "15"},
		{"4.0 4 eq", "true"}, {"4.2 4 ge", "true"}, {"4 4 gt", "false"}, {"1 true eq", "false"}, {"1 2 ne", "true"}, {"1 2 lt 1 1 le", "true true"},
		{"1 2 3 3 -1 roll", "2 3 1"}, {"1 2 3 3 1 roll", "3 1 2"}, {"1 2 3 3 0 roll", "1 2 3"}, {"1 2 exch", "2 1"}, {"1 2 pop", "1"}, {"7 dup", "7 7"},
		{"1 2 3 2 copy", "1 2 3 2 3"}, {"1 2 3 0 index", "1 2 3 3"}, {"1 2 3 2 index", "1 2 3 1"},
		{"4 3 lt {1} {2} ifelse", "2"}, {"3 4 lt {1} if", "1"}, {"3 4 gt {1} if", ""}, {"1 % two 2\n3", "1 3"}, // own
	}
	for _, test := range tests {
		p := parser{words: words([]byte("{" + test.program + "}"))}
		code, ok := p.program()
		if !ok {
			t.Errorf("%s: not parsed", test.program)
			continue
		}
		m := &machine{}
		m.run(code)
		var got []string
		for _, v := range m.stack[:m.n] {
			if v.kind == truth {
				got = append(got, fmt.Sprint(v.v == 1))
			} else {
				got = append(got, fmt.Sprintf("%.6g", math.Round(v.v*1e5)/1e5+0))
			}
		}
		if m.failed || strings.Join(got, " ") != rounded(test.want) {
			t.Errorf("%s: got %q (failed %v), want %q", test.program, got, m.failed, test.want)
		}
	}
}

// rounded gives numbers the form that the test compares.
func rounded(s string) string {
	words := strings.Fields(s)
	for i, w := range words {
		var v float64
		if _, err := fmt.Sscan(w, &v); err == nil {
			words[i] = fmt.Sprintf("%.6g", math.Round(v*1e5)/1e5)
		}
	}
	return strings.Join(words, " ")
}

func TestCalculatorFails(t *testing.T) {
	for _, program := range []string{
		"pop", "1 add", "1 0 div", "1 0 idiv", "true 1 add", "1.5 2 idiv", "1 {2} if", "1 2 3 9 1 roll", "-1 copy", "1 5 index", "-1 sqrt", "0 ln",
		strings.Repeat("1 ", mostStack+1),
	} {
		p := parser{words: words([]byte("{" + program + "}"))}
		code, ok := p.program()
		if !ok {
			t.Errorf("%s: not parsed", program)
			continue
		}
		m := &machine{}
		if m.run(code); !m.failed {
			t.Errorf("%s: left %v, want a failure", program, m.stack[:m.n])
		}
	}
	for _, program := range []string{"", "1", "{1", "{1 foo}", "{ {1} }", "{ true {1} {2} if }", "{ {1} {2} {3} ifelse }", strings.Repeat("{", 100)} {
		p := parser{words: words([]byte(program))}
		if _, ok := p.program(); ok {
			t.Errorf("%q was parsed", program)
		}
	}
}

// The spot function of ISO 32000-1, 7.10.5.3, example.
func TestCalculatorExample(t *testing.T) {
	f := readFunction(t, stream("/FunctionType 4 /Domain [-1 1 -1 1] /Range [-1 1]", []byte("{ 360 mul sin\n2 div\nexch 360 mul sin\n2 div\nadd }")))
	for _, in := range [][2]float64{{0, 0}, {0.25, 0}, {0.25, 0.25}, {-0.1, 0.7}, {3, 0.25}} {
		x := clamp(in[0], -1, 1)
		want := math.Sin(2*math.Pi*x)/2 + math.Sin(2*math.Pi*in[1])/2
		if got := eval(f, in[:]...)[0]; !near(got, want, 1e-12) {
			t.Errorf("f%v = %v, want %v", in, got, want)
		}
	}
}

// bilinear is the obvious way to read a table of w x h values between its samples.
func bilinear(value func(i, j int) float64, w, h int, x, y float64) float64 {
	i, j := min(int(x), w-2), min(int(y), h-2)
	dx, dy := x-float64(i), y-float64(j)
	return (1-dy)*((1-dx)*value(i, j)+dx*value(i+1, j)) + dy*((1-dx)*value(i, j+1)+dx*value(i+1, j+1))
}

// The form of the table is that of the example in ISO 32000-1, 7.10.2: 21 columns, 31 rows, domain and range from -1 to 1.
func TestSampled(t *testing.T) {
	const w, h = 21, 31
	rng := rand.New(rand.NewPCG(7, 11))
	for _, bits := range []int{1, 2, 4, 8, 12, 16, 24, 32} {
		var out bitWriter
		raw := make([]float64, w*h)
		for i := range raw {
			v := rng.Uint32() >> (32 - bits)
			out.write(v, bits)
			raw[i] = -1 + 2*float64(v)/(math.Ldexp(1, bits)-1)
		}
		dict := fmt.Sprintf("/FunctionType 0 /Domain [-1 1 -1 1] /Range [-1 1] /Size [%d %d] /Encode [0 20 0 30] /Decode [-1 1] /BitsPerSample %d", w, h, bits)
		f := readFunction(t, stream(dict, out.data))
		for range 500 {
			x, y := rng.Float64()*2-1, rng.Float64()*2-1
			want := bilinear(func(i, j int) float64 { return raw[j*w+i] }, w, h, (x+1)*10, (y+1)*15)
			if got := eval(f, x, y)[0]; !near(got, want, 1e-6) {
				t.Fatalf("%d bits: f(%v, %v) = %v, want %v", bits, x, y, got, want)
			}
		}
	}
}

// Encode may be turned round, Decode may differ from Range, outputs lie side by side.
func TestSampledOutputs(t *testing.T) {
	f := readFunction(t, stream("/FunctionType 0 /Domain [0 1] /Range [0 1 0 1] /Size [2] /Encode [1 0] /Decode [0 1 1 0] /BitsPerSample 8", []byte{0, 0, 255, 51}))
	for _, test := range []struct{ x, a, b float64 }{{0, 1, 0.8}, {1, 0, 1}, {0.5, 0.5, 0.9}, {-3, 1, 0.8}, {9, 0, 1}} {
		if got := eval(f, test.x); !near(got[0], test.a, 1e-6) || !near(got[1], test.b, 1e-6) {
			t.Errorf("f(%v) = %v, want %v %v", test.x, got, test.a, test.b)
		}
	}
}

// f(x) = C0 + x^N (C1 - C0), ISO 32000-1, 7.10.3.
func TestExponential(t *testing.T) {
	f := readFunction(t, "<< /FunctionType 2 /Domain [0 1] /C0 [0 1 0.2] /C1 [1 0 0.4] /N 2 >>")
	if got := eval(f, 0.5); !near(got[0], 0.25, 1e-12) || !near(got[1], 0.75, 1e-12) || !near(got[2], 0.25, 1e-12) {
		t.Errorf("got %v", got)
	}
	if got := eval(readFunction(t, "<< /FunctionType 2 /Domain [0 1] /N 1 >>"), 0.3); len(got) != 1 || !near(got[0], 0.3, 1e-12) {
		t.Errorf("without C0 and C1: got %v", got)
	}
}

// Parts are half-open but for the last, and may be turned round by Encode (ISO 32000-1, 7.10.4).
func TestStitching(t *testing.T) {
	const up = "<< /FunctionType 2 /Domain [0 1] /C0 [0] /C1 [1] /N 1 >>"
	f := readFunction(t, "<< /FunctionType 3 /Domain [0 2] /Bounds [1] /Encode [0 1 1 0] /Functions [11 0 R 11 0 R] >>", up)
	for _, test := range [][2]float64{{0, 0}, {0.25, 0.25}, {0.999, 0.999}, {1, 1}, {1.25, 0.75}, {2, 0}, {5, 0}} {
		if got := eval(f, test[0])[0]; !near(got, test[1], 1e-12) {
			t.Errorf("f(%v) = %v, want %v", test[0], got, test[1])
		}
	}
	g := readFunction(t, "<< /FunctionType 3 /Domain [0 1] /Bounds [0.5] /Encode [0 0 1 1] /Functions [11 0 R 11 0 R] >>", up)
	for _, test := range [][2]float64{{0.4999, 0}, {0.5, 1}} {
		if got := eval(g, test[0])[0]; got != test[1] {
			t.Errorf("step: f(%v) = %v, want %v", test[0], got, test[1])
		}
	}
}

func TestFunctionFaults(t *testing.T) {
	tests := map[string][]string{
		"null":         {"null"},
		"unknown kind": {"<< /FunctionType 1 /Domain [0 1] >>"},
		"no domain":    {"<< /FunctionType 2 /N 1 >>"},
		"no exponent":  {"<< /FunctionType 2 /Domain [0 1] >>"},
		"two ends":     {"<< /FunctionType 2 /Domain [0 1] /C0 [0] /C1 [1 1] /N 1 >>"},
		"loop":         {"<< /FunctionType 3 /Domain [0 1] /Bounds [] /Encode [0 1] /Functions [10 0 R] >>"},
		"wide loop":    {"<< /FunctionType 3 /Domain [0 1] /Bounds [.2 .4 .6] /Encode [0 1 0 1 0 1 0 1] /Functions [10 0 R 10 0 R 10 0 R 10 0 R] >>"},
		"bounds":       {"<< /FunctionType 3 /Domain [0 1] /Bounds [0.7 0.2] /Encode [0 1 0 1 0 1] /Functions [11 0 R 11 0 R 11 0 R] >>", "<< /FunctionType 2 /Domain [0 1] /N 1 >>"},
		"no stream":    {"<< /FunctionType 0 /Domain [0 1] /Range [0 1] /Size [2] /BitsPerSample 8 >>"},
		"cut off":      {stream("/FunctionType 0 /Domain [0 1] /Range [0 1] /Size [200] /BitsPerSample 8", []byte("abc"))},
		"huge":         {stream("/FunctionType 0 /Domain [0 1 0 1] /Range [0 1] /Size [2000000 2000000] /BitsPerSample 8", []byte("abc"))},
		"many inputs":  {stream("/FunctionType 0 /Domain ["+strings.Repeat("0 1 ", 20)+"] /Range [0 1] /Size ["+strings.Repeat("2 ", 20)+"] /BitsPerSample 1", make([]byte, 1<<17))},
		"program":      {stream("/FunctionType 4 /Domain [0 1] /Range [0 1]", []byte("{ nonsense }"))},
		"no result":    {stream("/FunctionType 4 /Domain [0 1] /Range [0 1]", []byte("{ pop }"))},
	}
	for name, objects := range tests {
		t.Run(name, func(t *testing.T) {
			_, err := reader(t, nil, objects...).function(ref(0))
			var f *raster.Fault
			if !errors.As(err, &f) || strings.Contains(err.Error(), "\n") {
				t.Errorf("got error %v, want a fault in one line", err)
			}
		})
	}
}

func FuzzCalculator(f *testing.F) {
	f.Add("{ 360 mul sin 2 div exch 360 mul sin 2 div add }", 0.3, 0.7)
	f.Add("{ dup 0.5 gt { 2 copy exch } { 1 index } ifelse 3 -1 roll }", 0.1, 0.9)
	f.Fuzz(func(t *testing.T, program string, x, y float64) {
		r := &Reader{}
		sd := types.StreamDict{Raw: []byte(program)}
		g, err := r.readCalculator(sd, clipped{[]float64{0, 1, 0, 1}, []float64{0, 1, 0.25, 0.5}})
		if err != nil {
			return
		}
		if out := eval(g, x, y); !(out[0] >= 0 && out[0] <= 1 && out[1] >= 0.25 && out[1] <= 0.5) {
			t.Errorf("%q of %v, %v is %v, out of range", program, x, y, out)
		}
	})
}
