package analysis

// Block is a run of consecutive samples of one channel.
//
// Start is the index of Samples[0] on the source's sample clock, which begins
// at 0 and counts lost samples too: a source that lost n samples before this
// block sets Lost to n and Start to the end of the block before plus n.
// Samples are full scale at ±1 and finite; the slice belongs to the source and
// is valid until its next block is asked for.
type Block struct {
	Start   int64
	Lost    int64
	Samples []float64
}
