package preflight

import "testing"

func TestMeasureWords(t *testing.T) {
	for _, tt := range []struct {
		m    Measure
		want string
	}{
		{Measure{Quantity: "width", Value: 0, Unit: "mm"}, "no width given"},
		{Measure{Quantity: "clearance", Value: 0, Unit: "mm"}, "0.00 mm"},
		{Measure{Quantity: "width", Value: 0.0049, Unit: "mm"}, "under 0.01 mm"},
		{Measure{Quantity: "width", Value: 0.005, Unit: "mm"}, "0.01 mm"},
		{Measure{Quantity: "width", Value: 0.12, Unit: "mm"}, "0.12 mm"},
		{Measure{Quantity: "excess", Value: 12.34, Unit: "mm"}, "12.3 mm"},
		{Measure{}, ""},
	} {
		if got := tt.m.Words(); got != tt.want {
			t.Errorf("%+v: %q, want %q", tt.m, got, tt.want)
		}
	}
}
