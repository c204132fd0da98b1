package main

import (
	"bytes"
	"strings"
	"testing"
	"time"
)

// TestProgress lets a hundred files a second be done by a clock of its own.
func TestProgress(t *testing.T) {
	var errs bytes.Buffer
	p := newProgress(&speaker{terminal: terminal{err: &errs, errIsTerminal: true}}, 1000)
	now := p.clock()
	p.clock = func() time.Time { return now }
	p.samples[0].at = now
	for range 500 {
		now = now.Add(10 * time.Millisecond)
		p.step()
	}
	lines := strings.Split(errs.String(), "\r\x1b[K")
	if n := len(lines); n < 45 || n > 51 {
		t.Errorf("the line was drawn %d times in 5 s, want about 50", n)
	}
	if want := "judged 491 of 1000  #########...........  100 a second, 6 s left"; lines[len(lines)-1] != want {
		t.Errorf("got  %q\nwant %q", lines[len(lines)-1], want)
	}
	// Once it has become slow, the rate follows.
	for range 30 {
		now = now.Add(time.Second)
		p.step()
	}
	lines = strings.Split(errs.String(), "\r\x1b[K")
	if want := "judged 530 of 1000  ##########..........  1 a second, 8 min left"; lines[len(lines)-1] != want {
		t.Errorf("got  %q\nwant %q", lines[len(lines)-1], want)
	}
	p.end()
	before := errs.Len()
	p.step()
	if errs.Len() != before || !strings.HasSuffix(errs.String(), "\r\x1b[K") {
		t.Error("the line is drawn after its end")
	}
}

// TestProgressOnlyOnATerminal: a log gets nothing.
func TestProgressOnlyOnATerminal(t *testing.T) {
	var errs bytes.Buffer
	p := newProgress(&speaker{terminal: terminal{err: &errs}}, 3)
	for range 3 {
		p.step()
	}
	p.end()
	if errs.Len() > 0 {
		t.Errorf("got %q", errs.String())
	}
}

func TestSpell(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0: "0 s", time.Millisecond: "1 s", 99 * time.Second: "99 s", 100 * time.Second: "2 min", 90 * time.Minute: "90 min", 3 * time.Hour: "3 h 0 min",
	} {
		if got := spell(d); got != want {
			t.Errorf("%v is %q, want %q", d, got, want)
		}
	}
}
