package raster

import "sync"

// Arrival tells how much of a picture has been decoded, so that it can be looked at from the top while the rest is still on
// its way. Its methods are safe for concurrent use.
type Arrival struct {
	mu   sync.Mutex
	more *sync.Cond
	rows int
	done bool
	err  error
}

// Arriving marks a picture as still being decoded, before it is handed on. Whoever decodes it announces rows with Reached and
// ends with End.
func (p *Picture) Arriving() *Arrival {
	p.arrival = &Arrival{}
	p.arrival.more = sync.NewCond(&p.arrival.mu)
	return p.arrival
}

// Reached announces that rows 0 to rows-1 are in place, in Pix and in Drawn, and will not change.
func (a *Arrival) Reached(rows int) {
	a.mu.Lock()
	a.rows = rows
	a.mu.Unlock()
	a.more.Broadcast()
}

// End announces that decoding is over: all rows and every field of the picture are in place, or err says why they will not be.
func (a *Arrival) End(err error) {
	a.mu.Lock()
	a.done, a.err = true, err
	a.mu.Unlock()
	a.more.Broadcast()
}

// Await waits until rows 0 to rows-1 of Pix, and of Drawn, are in place. The fields that depend on all pixels, HasAlpha and Notes,
// are settled only once Await has returned for more rows than the picture has; the others are from the start. An error, the one of the
// decoder, says that the rest will never come.
func (p *Picture) Await(rows int) error {
	a := p.arrival
	if a == nil {
		return nil
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	for !a.done && a.rows < rows {
		a.more.Wait()
	}
	return a.err
}

// Pending reports whether some of the picture is still to come.
func (p *Picture) Pending() bool {
	a := p.arrival
	if a == nil {
		return false
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	return !a.done
}

// Complete waits until the whole picture is in place.
func (p *Picture) Complete() error { return p.Await(p.Pix.Rect.Max.Y + 1) }
