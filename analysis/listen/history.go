package listen

// history is a ring buffer of samples addressed by their index on the clock.
type history struct {
	buffer   []float64 // length a power of two
	mask     int64
	from, to int64 // samples held: from..to-1
}

func newHistory(least int) history {
	n := 1
	for n < least {
		n *= 2
	}
	return history{buffer: make([]float64, n), mask: int64(n - 1)}
}

// clear forgets everything; the next sample pushed has index at.
func (h *history) clear(at int64) { h.from, h.to = at, at }

func (h *history) push(x []float64) {
	for _, v := range x {
		h.buffer[h.to&h.mask] = v
		h.to++
	}
	h.from = max(h.from, h.to-int64(len(h.buffer)))
}

// copy fills dst with the samples from at on. All of them must be held.
func (h *history) copy(dst []float64, at int64) {
	for len(dst) > 0 {
		n := copy(dst, h.buffer[at&h.mask:])
		dst = dst[n:]
		at += int64(n)
	}
}
