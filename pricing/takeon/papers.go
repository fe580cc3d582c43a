package takeon

import (
	"fmt"
	"slices"
	"strings"

	"wainscot/bom/catalogue"
	"wainscot/pricing/job"
)

// certificates are the outside work that returns one.
func (r *reader) certificates() []catalogue.OutsideWork {
	return slices.DeleteFunc(slices.Clone(r.k.Catalogue.OutsideWork), func(w catalogue.OutsideWork) bool { return w.Certificate == "" })
}

// paper is a certificate of a job: whether it is there, to come or not needed.
func (r *reader) paper(w row) {
	p := job.TakenOnPaper{
		Outside: w.word("paper", codes(r.certificates(), func(o *catalogue.OutsideWork) string { return o.Code }), ""),
		State:   job.PaperState(w.word("state", job.PaperToCome.Words(), "")),
		On:      w.day("on", false, r.k.On),
	}
	if w.cells["stage"] != "" {
		p.Stage = w.word("stage", r.stages(), "")
	}
	switch {
	case p.State == "":
	case p.State == job.PaperToCome && w.cells["stage"] == "":
		w.fault("stage", "missing_value", "Nothing says at which stage it is given.", "Name the stage of the visit.")
	case p.State == job.PaperThere && w.cells["on"] == "":
		w.fault("on", "missing_value", "Nothing says when it was signed.", "Give the day on it.")
	case p.State != job.PaperToCome && p.Stage != "":
		w.fault("stage", "contradiction", "Only a certificate that is to come has a stage.", "Leave the stage out.")
	case p.State != job.PaperThere && p.On != "":
		w.fault("on", "contradiction", "Only a certificate that is there was signed.", "Leave the day out.")
	}
	i, ok := w.of("job", "jobs", r.jobs)
	if !ok || p.Outside == "" {
		return
	}
	j := &r.out.Jobs[i]
	if slices.ContainsFunc(j.Papers, func(o job.TakenOnPaper) bool { return o.Outside == p.Outside }) {
		w.fault("paper", "twice", "That certificate of the job is there already.", "Write it once.")
		return
	}
	j.Papers = append(j.Papers, p)
}

// papers: nothing is known of what is fitted in a van that is taken on, so of
// each certificate there can be somebody has to say whether it is needed; no van
// is handed over without one because nobody thought of it.
func (r *reader) papers() {
	if r.broken["papers"] {
		return
	}
	for i := range r.out.Jobs {
		j := &r.out.Jobs[i]
		var missing, codes []string
		for _, w := range r.certificates() {
			if !slices.ContainsFunc(j.Papers, func(p job.TakenOnPaper) bool { return p.Outside == w.Code }) {
				missing, codes = append(missing, w.Certificate), append(codes, w.Code)
			}
		}
		if len(missing) > 0 {
			r.fault("jobs.csv", j.Line, "job", "no_paper", fmt.Sprintf("papers.csv does not say whether it needs: %s.", strings.Join(missing, ", ")),
				fmt.Sprintf("Write of %s there whether it is to come, there or not needed.", strings.Join(codes, ", ")))
		}
		j.Papers = slices.DeleteFunc(j.Papers, func(p job.TakenOnPaper) bool { return p.State == job.PaperNotNeeded })
	}
}
