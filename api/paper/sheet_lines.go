package paper

import (
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/formula"
)

// sheetLine is one line of a build sheet in words.
type sheetLine struct {
	number   int // of the stage, from 1
	stage    string
	kind     string
	code     string
	name     string
	quantity decimal.Decimal
	unit     string
	mass     decimal.Decimal
	notes    string // who provides it, that its finish is still to choose
	why      string
}

// lines puts a sheet's lines into words, in their order.
func (b BuildSheet) lines() []sheetLine {
	numbers := make(map[string]int, len(b.Sheet.Stages))
	for i, s := range b.Sheet.Stages {
		numbers[s.Stage] = i + 1
	}
	kits := kitNames(b.Catalogue)
	lines := make([]sheetLine, len(b.Sheet.Lines))
	for i := range b.Sheet.Lines {
		l := &b.Sheet.Lines[i]
		at := numbers[l.Stage]
		stage := plain(l.Stage)
		if at > 0 {
			stage = clean(b.Sheet.Stages[at-1].Name)
		}
		lines[i] = sheetLine{
			number: at, stage: stage, kind: clean(string(l.Kind)), code: exact(l.Code), name: clean(l.Name),
			quantity: l.Quantity, unit: clean(formula.UnitWords(l.Unit)), mass: l.MassKG, notes: notes(l), why: because(kits, l),
		}
	}
	return lines
}

// notes say what else the workshop must know of a line.
func notes(l *bom.Line) string {
	var says []string
	if l.Kind == bom.PartLine && l.Code == "" && l.Finish != "" {
		says = append(says, "finish still to choose: "+plain(l.Finish))
	}
	if p := plain(string(l.Provision)); p != "" {
		says = append(says, p)
	}
	return strings.Join(says, "; ")
}

// because gives the reasons of a line, each once: who asked for it, and in
// brackets which kits it is a component of, the innermost only.
func because(kits map[string]string, l *bom.Line) string {
	var heads []string
	in := map[string][]string{}
	for i := range l.Because {
		b := &l.Because[i]
		head, _, _ := strings.Cut(b.Says, ", in: ")
		head = clean(head)
		if !slices.Contains(heads, head) {
			heads = append(heads, head)
		}
		if len(b.Via) == 0 {
			continue
		}
		code := b.Via[len(b.Via)-1]
		kit, ok := kits[code]
		if !ok {
			kit = plain(code)
		}
		if kit != head && !slices.Contains(in[head], kit) {
			in[head] = append(in[head], kit)
		}
	}
	for i, head := range heads {
		if list := in[head]; len(list) > 0 {
			heads[i] = head + " (" + strings.Join(list, "; ") + ")"
		}
	}
	return strings.Join(heads, "; ")
}

func kitNames(c *catalogue.Catalogue) map[string]string {
	if c == nil {
		return nil
	}
	names := make(map[string]string, len(c.Kits))
	for i := range c.Kits {
		names[c.Kits[i].Code] = clean(c.Kits[i].Name)
	}
	return names
}

// outsideNames are the names of outside work by code.
func outsideNames(c *catalogue.Catalogue) map[string]string {
	if c == nil {
		return nil
	}
	names := make(map[string]string, len(c.OutsideWork))
	for i := range c.OutsideWork {
		names[c.OutsideWork[i].Code] = clean(c.OutsideWork[i].Name)
	}
	return names
}

// partSum is what is needed of one part over all stages.
type partSum struct {
	sheetLine
	stages []string
}

// parts sums the parts over the stages, in the order of their first line.
func parts(lines []sheetLine) []partSum {
	type key struct{ kind, code, name, unit string }
	var sums []partSum
	at := map[key]int{}
	for _, l := range lines {
		if l.kind == string(bom.HoursLine) || l.kind == string(bom.OutsideLine) || l.kind == string(bom.StandingLine) || l.kind == string(bom.KitLine) {
			continue
		}
		k := key{l.kind, l.code, l.name, l.unit}
		i, ok := at[k]
		if !ok {
			at[k] = len(sums)
			sums = append(sums, partSum{sheetLine: l, stages: []string{l.stage}})
			continue
		}
		s := &sums[i]
		s.quantity, s.mass = s.quantity.Add(l.quantity), s.mass.Add(l.mass)
		if !slices.Contains(s.stages, l.stage) {
			s.stages = append(s.stages, l.stage)
		}
		if l.notes != "" && !strings.Contains(s.notes, l.notes) {
			s.notes = strings.TrimPrefix(s.notes+"; "+l.notes, "; ")
		}
	}
	return sums
}

// subject says what van a sheet is for.
func (b BuildSheet) subject() string {
	x := newIndex(b.Catalogue)
	says := []string{x.baseVan(b.Sheet.BaseVan)}
	if r := exact(b.Van.Registration); r != "" {
		says = append(says, r)
	}
	if v := exact(b.Van.VIN); v != "" {
		says = append(says, "VIN "+v)
	}
	if b.Day != "" {
		says = append(says, day(b.Day))
	}
	return strings.Join(says, ", ")
}

// heading is the title of a sheet.
func (b BuildSheet) heading() string {
	if t := clean(b.Title); t != "" {
		return t
	}
	return "Build sheet"
}

// harmless keeps a text from being taken for a formula by a spreadsheet: one
// that begins like a formula gets an apostrophe in front.
// Source: OWASP, CSV Injection (characters = + - @ tab and carriage return).
func harmless(s string) string {
	if s == "" {
		return s
	}
	switch r := []rune(s)[0]; r {
	case '=', '+', '-', '@', '\t', '\r', '\n', '\u2212', '\uff1d', '\uff0b', '\uff0d', '\uff20':
		return "'" + s
	}
	return s
}

func hours(d decimal.Decimal) string { return fmt.Sprintf("%s h", d.StringFixed(2)) }
