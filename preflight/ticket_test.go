package preflight

import (
	"slices"
	"strings"
	"testing"
)

func mustTicket(t *testing.T, p *Process, fabric string, pl Placement, mirrored bool) Ticket {
	t.Helper()
	sheet, err := SheetByName(p.DefaultSheet(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	ticket, err := Instructions(p, fabric, sheet, pl, mirrored)
	if err != nil {
		t.Fatal(err)
	}
	return ticket
}

func TestInstructionsMirrorExactlyOnce(t *testing.T) {
	for _, p := range Processes() {
		for _, mirrored := range []bool{true, false} {
			ticket := mustTicket(t, p, "", Placement{Fits: true}, mirrored)
			var on, off int
			all := strings.Join(ticket.Print, "\n")
			for _, line := range ticket.Print {
				if strings.Contains(line, "mirror printing ON") {
					on++
				}
				if strings.Contains(line, "mirror printing OFF") {
					off++
				}
			}
			wantOn := 0
			if mirrored && p.Mirror == "driver" {
				wantOn = 1
			}
			if on != wantOn || off != 1-wantOn {
				t.Errorf("%s, mirrored %v: %d say ON, %d say OFF:\n%s", p.ID, mirrored, on, off, all)
			}
			if !strings.Contains(all, "100 %") || !strings.Contains(all, "a4") || !strings.Contains(all, "side") {
				t.Errorf("%s: scale, sheet or side is not named:\n%s", p.ID, all)
			}
		}
	}
}

func TestInstructionsTurn(t *testing.T) {
	p := Processes()[0]
	for pl, want := range map[*Placement]int{{Fits: true}: 0, {Fits: true, TurnDeg: 90}: 1, {TurnDeg: 90}: 0} { // the last fits neither way
		got := strings.Count(strings.Join(mustTicket(t, p, "", *pl, true).Print, "\n"), "by 90 degrees")
		if got != want {
			t.Errorf("%+v: turning is said %d times, want %d", *pl, got, want)
		}
	}
}

// TestInstructionsTooLarge: what fits neither way round is told so first, and nothing is said as if it fitted.
func TestInstructionsTooLarge(t *testing.T) {
	for _, deg := range []int{0, 90} {
		print := mustTicket(t, Processes()[0], "", Placement{TurnDeg: deg}, true).Print
		all := strings.Join(print, "\n")
		if !strings.HasPrefix(print[0], "Make it fit first") || strings.Contains(all, "Turn the artwork") {
			t.Errorf("too large, best at %d degrees:\n%s", deg, all)
		}
		if strings.Contains(all, "Print on one sheet") || !strings.Contains(all, "Once it fits, print on one sheet of a4") {
			t.Errorf("too large, yet to be printed on one sheet:\n%s", all)
		}
	}
}

func TestInstructionsFabric(t *testing.T) {
	p := Processes()[0]
	settings := Placement{Settings: []string{"Choose actual size (100 %)."}}
	if print := mustTicket(t, p, "", settings, true).Print; !slices.Contains(print, settings.Settings[0]) {
		t.Errorf("what to set against shrinking is not told: %q", print)
	}
	if _, err := Instructions(p, "coton", Sheet{}, Placement{}, true); err == nil || !strings.Contains(err.Error(), `did you mean "cotton"?`) {
		t.Errorf("unknown fabric: %v", err)
	}
	ticket := mustTicket(t, p, "cap", Placement{}, true)
	ticket.Press[0].Do, ticket.Cautions[0] = "changed", "changed"
	if again := mustTicket(t, p, "cap", Placement{}, true); again.Press[0].Do == "changed" || again.Cautions[0] == "changed" {
		t.Error("changing a ticket changes the process")
	}
}

func TestDefaultsOfEmptyProcess(t *testing.T) {
	var p Process
	if p.DefaultSheet() != "" || p.DefaultFabric() != "" {
		t.Error("an empty process has defaults")
	}
	if _, err := p.FabricByName(""); err == nil {
		t.Error("an empty process has a fabric")
	}
}

func TestInstructionsTellOfAWhiteOfItsOwn(t *testing.T) {
	for _, p := range Processes() {
		got := strings.Contains(strings.Join(mustTicket(t, p, "", Placement{Fits: true}, true).Print, "\n"), "called White")
		if want := p.WhiteSource == WhiteUnderbase; got != want {
			t.Errorf("%s: told %v, want %v", p.ID, got, want)
		}
	}
}
