package bench

import (
	"fmt"
	"math"
	"strings"

	"ringwell/analysis"
)

// say puts an advice into words.
func (a *Advice) say(j Job, c *Curve) {
	verb := "Strike"
	if j.Way == Blown {
		verb = "Blow"
	}
	var more []string
	switch a.Step {
	case Sound:
		a.Says = verb + " it as it is."
		if j.Way == Blown {
			more = append(more, "Water raises what is blown. Wash a found bottle before it touches a mouth, and never blow a chipped rim.")
		} else {
			more = append(more, "Water lowers what is struck. No hot water into cold glass.")
		}
	case Add, Take:
		word, where := "Add", ""
		if a.Step == Take {
			word = "Take"
			where = " out"
		}
		sigma := max(a.Sigma, j.Pouring.sigma(a.Amount))
		a.Says = fmt.Sprintf("%s %s%s, then %s again.", word, give(a.Amount, sigma, " ml"), where, strings.ToLower(verb))
		if a.Teach {
			a.Says = fmt.Sprintf("%s %s ml, then %s again: not yet all of it.", word, analysis.Fixed(a.Amount, amountPlace(j)), strings.ToLower(verb))
			more = append(more, fmt.Sprintf("About %s ml bring it to %s. This much shows best how much it must be.", give(a.Aim.Value-a.Fill, a.Sigma, ""), j.Aim.Name))
		}
		more = append(more, a.reach(j)...)
	case There:
		a.Says = fmt.Sprintf("There: %s, %s.", j.Aim.Name, distance(a.Now))
		more = append(more, fmt.Sprintf("%s ml in it.", analysis.Fixed(a.Fill, amountPlace(j))))
	case Again:
		a.Says = verb + " it again as it is."
		more = append(more, fmt.Sprintf("It lies %s of %s; one sound more tells.", distance(a.Now), j.Aim.Name))
	case Cannot:
		a.Says = a.refusal(j)
	}
	if c != nil && a.Step != Cannot && a.Step != There && a.Promise > j.Aim.within() {
		more = append(more, fmt.Sprintf("Poured %s, within ±%s c is what can be promised.%s", by(j.Pouring), ceil(a.Promise), finer(j.Pouring)))
	}
	a.Words = strings.Join(more, " ")
}

func amountPlace(j Job) int {
	if j.Pouring == Eye {
		return 0
	}
	return -1
}

func by(p Pouring) string {
	if p == Eye {
		return "by eye"
	}
	return "by " + string(p)
}

func finer(p Pouring) string {
	if p == Eye {
		return " Weigh the water, or take a syringe, to come nearer."
	}
	return ""
}

func ceil(x float64) string { return whole(math.Ceil(x)) }

// reach says when it is not sure that the aim can be reached.
func (a *Advice) reach(j Job) []string {
	end := a.Full
	past := end.High > a.Within && j.Way == Struck || end.Low < -a.Within && j.Way == Blown
	if !past || a.Aim.High < j.Capacity-j.least() {
		return nil
	}
	return []string{fmt.Sprintf("Whether %s can be reached is not sure yet: full, it will lie between %s and %s.", j.Aim.Name, side(end.Low), side(end.High))}
}

// refusal says why not, and by how much.
func (a *Advice) refusal(j Job) string {
	range_ := math.Abs(a.Full.Value - a.Empty.Value)
	u := math.Max((a.Full.High-a.Full.Low)/4, 0.5)
	above := a.Empty.High < -a.Within // the aim lies above empty
	switch {
	case j.Way == Struck && above:
		return fmt.Sprintf("Water only lowers what is struck, and empty it already lies %s c below %s. Take a smaller or thicker one.", analysis.Fixed(-a.Empty.Value, place(u)), j.Aim.Name)
	case j.Way == Struck:
		return fmt.Sprintf("Full is %s c below empty; %s lies %s c beyond. Take a larger or thinner one.", analysis.Fixed(range_, place(u)), j.Aim.Name, analysis.Fixed(a.Full.Value, place(u)))
	case a.Empty.Low > a.Within:
		return fmt.Sprintf("Water only raises what is blown, and empty it already lies %s c above %s. Take a larger bottle.", analysis.Fixed(a.Empty.Value, place(u)), j.Aim.Name)
	}
	return fmt.Sprintf("With water up to the neck it is %s c above empty; %s lies %s c beyond. Take a smaller bottle.", analysis.Fixed(range_, place(u)), j.Aim.Name, analysis.Fixed(-a.Full.Value, place(u)))
}

func distance(at Interval) string {
	p := place(at.Sigma)
	text := analysis.Fixed(math.Abs(at.Value), p)
	band := " ±" + analysis.Fixed(analysis.RoundUp(at.Sigma, p), p)
	switch {
	case strings.Trim(text, "0.") == "":
		return "right there" + band + " c"
	case at.Value > 0:
		return text + " c high" + band
	}
	return text + " c low" + band
}

func side(cents float64) string {
	if cents > 0 {
		return whole(cents) + " c above it"
	}
	return whole(-cents) + " c below it"
}
