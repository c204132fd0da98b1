package report_test

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"peelcheck/preflight"
	"peelcheck/preflight/report"
)

// fill gives every field of a struct, and of those within it, a value of its own that is not zero.
func fill(v reflect.Value, next *int) {
	*next++
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			fill(v.Field(i), next)
		}
	case reflect.String:
		v.SetString(strings.Repeat("x", *next))
	case reflect.Int:
		v.SetInt(int64(*next))
	case reflect.Float64:
		v.SetFloat(float64(*next) / 8)
	}
}

// awkward are findings with every field, with none, and with texts and numbers that encoding/json treats in a way of their own.
func awkward() []preflight.Finding {
	var all preflight.Finding
	n := 0
	fill(reflect.ValueOf(&all).Elem(), &n)
	list := []preflight.Finding{all, {}}
	for _, s := range []string{"", `"findings": []`, `a\b`, "<&>", "\x00\x1f\x7f\t\n", "é \u2028\u2029", "\xff\xc3(", "~ }"} {
		list = append(list, preflight.Finding{Rule: s, Message: s, Remedy: s, Plane: preflight.Plane(s), Fingerprint: s, Measure: preflight.Measure{Unit: s}})
	}
	for _, v := range []float64{math.Copysign(0, -1), 0.1, -0.001, 1e-6, 9.99e-7, 1e20, 1e21, 123456789.125, math.MaxFloat64, math.SmallestNonzeroFloat64} {
		list = append(list, preflight.Finding{LengthMM: v, AreaMM2: -v, BoxMM: preflight.BoxMM{X: v, Y: -v, W: 1 / 3.0}, Measure: preflight.Measure{Value: v, Limit: -v}})
	}
	rng := rand.New(rand.NewPCG(6, 1))
	for i := range 400 { // rounded to fewer and to more places than most are, of up to 17 digits
		n, places := float64(rng.Int64N(int64(math.Pow10(1+i%17)))), math.Pow10(i%7)
		list = append(list, preflight.Finding{LengthMM: n / places, AreaMM2: -n / places, BoxMM: preflight.BoxMM{X: n / 1e4, Y: math.Nextafter(n/1e4, -1)}})
	}
	return list
}

// TestFindingsAsEncodingJSON compares the findings' own encoder with encoding/json, over more text than it gathers at once.
func TestFindingsAsEncodingJSON(t *testing.T) {
	long := sample()
	for range 60 {
		long.Findings = append(long.Findings, awkward()...)
	}
	short := sample()
	short.Findings = []preflight.Finding{}
	for _, rep := range []*preflight.Report{long, short} {
		rep.WhiteRegions = []preflight.WhiteRegion{}
		for _, array := range []bool{false, true} {
			var v any = rep
			if array {
				v = []*preflight.Report{rep, rep}
			}
			want, err := json.MarshalIndent(v, "", "  ")
			if err != nil {
				t.Fatal(err)
			}
			reps := []*preflight.Report{rep}
			if array {
				reps = append(reps, rep)
			}
			if got := encoded(t, array, reps...); !bytes.Equal(got, append(want, '\n')) {
				t.Errorf("%d findings, array %v (-want +got):\n%s", len(rep.Findings), array, cmp.Diff(string(want)+"\n", string(got)))
			}
		}
	}
}

func TestNoNumberIsAnError(t *testing.T) {
	rep := sample()
	rep.Findings[3].LengthMM = math.NaN()
	if err := report.NewJSON(&bytes.Buffer{}, false).Add(rep); err == nil {
		t.Error("NaN was written")
	}
}
