package webview

import (
	"io"
	"net/http"
	"slices"
	"strings"
	"time"

	"ringwell/analysis/catalogue"
)

// getExport sends a table as CSV, or everything as JSON Lines.
func (s *Server) getExport(w http.ResponseWriter, r *http.Request, shelf *catalogue.Reader) error {
	name := r.PathValue("table")
	table, isCSV := strings.CutSuffix(name, ".csv")
	w.Header().Set("Content-Disposition", `attachment; filename="ringwell-`+strings.Map(fileLetter, name)+`"`)
	out := &begun{to: w}
	var err error
	// Decades of recordings take longer than other answers may.
	http.NewResponseController(w).SetWriteDeadline(time.Time{})
	switch {
	case name == "shelf.jsonl":
		w.Header().Set("Content-Type", "application/jsonl")
		err = shelf.Export(r.Context(), out)
	case isCSV && slices.Contains(catalogue.Tables(), catalogue.Table(table)):
		w.Header().Set("Content-Type", "text/csv; charset=utf-8; header=present")
		err = shelf.WriteCSV(r.Context(), catalogue.Table(table), out)
	default:
		err = refuse(http.StatusNotFound, "", "There are shelf.jsonl, objects.csv, voices.csv and strikes.csv.")
	}
	if err == nil {
		return nil
	}
	if out.any {
		// Half an export that looks whole would be worse than a broken one.
		s.cfg.Log.Error("export", "err", err)
		panic(http.ErrAbortHandler)
	}
	w.Header().Del("Content-Disposition")
	return err
}

func fileLetter(r rune) rune {
	if r == '.' {
		return r
	}
	return plainLetter(r)
}

// begun notes whether anything was written.
type begun struct {
	to  io.Writer
	any bool
}

func (b *begun) Write(p []byte) (int, error) {
	b.any = true
	return b.to.Write(p)
}
