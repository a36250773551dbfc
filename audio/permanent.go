package audio

import "ringwell/analysis/listen"

// permanent marks an error that opening the source again cannot mend, for
// listen.Attend, and adds no words of its own.
type permanent struct{ error }

func (p permanent) Unwrap() error { return p.error }

func (p permanent) Is(target error) bool { return target == listen.ErrPermanent }
