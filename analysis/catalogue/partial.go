package catalogue

import (
	"context"
	"database/sql"
	"encoding/binary"
	"fmt"
	"math"

	"ringwell/analysis"
)

func insertPartials(tx *sql.Tx, strike string, partials []analysis.Partial) error {
	if len(partials) == 0 {
		return nil
	}
	put, err := tx.Prepare(`INSERT INTO partial (strike, n, frequency_hz, sigma_c, level_db, sigma_level_db, t60_s, sigma_t60_s,
		beat_hz, sigma_beat_hz, pair, cov, cross) VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?)`)
	if err != nil {
		return err
	}
	defer put.Close()
	for n := range partials {
		p := &partials[n]
		_, err := put.Exec(strike, n, float64(p.Frequency), float64(p.Sigma), p.Level, p.SigmaLevel, p.T60, p.SigmaT60,
			p.Beat, p.SigmaBeat, p.Pair, blob(&p.Cov), blob(&p.Cross))
		if err != nil {
			return err
		}
	}
	return nil
}

const partialColumns = `frequency_hz, sigma_c, level_db, sigma_level_db, t60_s, sigma_t60_s, beat_hz, sigma_beat_hz, pair, cov, cross`

func scanPartial(row scanner) (analysis.Partial, error) {
	var p analysis.Partial
	var cov, cross []byte
	err := row.Scan((*float64)(&p.Frequency), (*float64)(&p.Sigma), &p.Level, &p.SigmaLevel, &p.T60, &p.SigmaT60,
		&p.Beat, &p.SigmaBeat, &p.Pair, &cov, &cross)
	if err == nil {
		err = unblob(&p.Cov, cov)
	}
	if err == nil {
		err = unblob(&p.Cross, cross)
	}
	return p, err
}

func partials(ctx context.Context, db querier, strike string) ([]analysis.Partial, error) {
	return list(ctx, db, scanPartial, `SELECT `+partialColumns+` FROM partial WHERE strike = ? ORDER BY n`, strike)
}

// blob writes a block by rows as little-endian doubles, nil for one of zeros.
func blob(m *[4][4]float64) []byte {
	if *m == ([4][4]float64{}) {
		return nil
	}
	b := make([]byte, 0, 128)
	for _, row := range m {
		for _, x := range row {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
		}
	}
	return b
}

func unblob(m *[4][4]float64, b []byte) error {
	if b == nil {
		return nil
	}
	if len(b) != 128 {
		return fmt.Errorf("a covariance of %d bytes, want 128", len(b))
	}
	for i := range 16 {
		m[i/4][i%4] = math.Float64frombits(binary.LittleEndian.Uint64(b[8*i:]))
	}
	return nil
}

func finiteBlock(m *[4][4]float64) bool {
	for i := range m {
		if !finite(m[i][:]...) {
			return false
		}
	}
	return true
}
