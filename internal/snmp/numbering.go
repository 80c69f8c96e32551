package snmp

import (
	"cmp"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
)

// bank is ports side by side that are told apart by their number.
type bank struct {
	numbers []int       // that it goes by: of the box and of the module in it, as far as told
	ports   map[int]int // ifIndex by number
	unsure  bool        // two ports have one number
}

func (b *bank) add(number, ifIndex int) {
	if before, known := b.ports[number]; known && before != ifIndex {
		b.unsure = true
	}
	b.ports[number] = ifIndex
}

// numberedName is a port's name that ends with its number.
var numberedName = regexp.MustCompile(`^(|.*[^0-9])([0-9]{1,5})$`)

var digits = regexp.MustCompile(`[0-9]{1,5}`)

// rowsByName makes banks of the ports whose names are alike but for the last
// number. The numbers before it are the bank's: 1 and 0 of "Gi1/0/17", and of a
// letter its place in the alphabet: 2 of "B17".
func (t *tree) rowsByName() []*bank {
	banks := map[string]*bank{}
	for i, r := range t.readings {
		name := numberedName.FindStringSubmatch(r.Name)
		if name == nil {
			name = numberedName.FindStringSubmatch(r.Description)
		}
		if name == nil {
			continue
		}
		b := banks[name[1]]
		if b == nil {
			b = &bank{numbers: numbersIn(name[1]), ports: map[int]int{}}
			banks[name[1]] = b
		}
		if n, err := strconv.Atoi(name[2]); err == nil {
			b.add(n, i)
		}
	}
	return merged(slices.Collect(maps.Values(banks)))
}

// merged makes one of the banks that go by the same numbers, where no two ports
// in them have one: a box may have ports 1 to 36 of one speed, and 37 to 48 of
// another with other letters.
func merged(banks []*bank) (all []*bank) {
	alike := map[string][]*bank{}
	for _, b := range banks {
		key := fmt.Sprint(b.numbers)
		alike[key] = append(alike[key], b)
	}
	for _, of := range alike {
		one := &bank{numbers: of[0].numbers, ports: map[int]int{}}
		for _, b := range of {
			one.unsure = one.unsure || b.unsure
			for n, i := range b.ports {
				one.add(n, i)
			}
		}
		if one.unsure {
			all = append(all, of...)
		} else {
			all = append(all, one)
		}
	}
	return all
}

func numbersIn(prefix string) (numbers []int) {
	if len(prefix) == 1 && prefix[0] >= 'A' && prefix[0] <= 'Z' {
		return []int{int(prefix[0]-'A') + 1}
	}
	for _, text := range digits.FindAllString(prefix, -1) {
		if n, err := strconv.Atoi(text); err == nil {
			numbers = append(numbers, n)
		}
	}
	return numbers
}

// rowsByPlace makes banks of the ports that are in the same part, by their
// positions in it (entPhysicalParentRelPos).
func (t *tree) rowsByPlace() []*bank {
	banks := map[uint32]*bank{}
	for at, i := range t.ports {
		e := t.all[at]
		if e.class != portClass || e.position < 0 {
			continue
		}
		b := banks[e.in]
		if b == nil {
			b = &bank{ports: map[int]int{}}
			if box, ok := climb(t.all, e.in); ok {
				b.numbers = append(b.numbers, t.all[box].position)
			}
			if in := t.all[e.in]; in.class == moduleClass {
				b.numbers = append(b.numbers, in.position)
			}
			banks[e.in] = b
		}
		b.add(e.position, i)
	}
	return slices.Collect(maps.Values(banks))
}

// shift gives by how much a group's numbers differ from those of a bank's ports;
// false where they can't do so in this way.
type shift func(b *bank, numbers []int, before int) (by int, ok bool)

// shifts are the ways in which they do: not at all; by one, where ports count
// from 0; or by those of the groups before, where they run on through the groups.
var shifts = []shift{
	func(*bank, []int, int) (int, bool) { return 0, true },
	func(b *bank, _ []int, _ int) (int, bool) { _, zero := b.ports[0]; return -1, zero },
	func(b *bank, numbers []int, before int) (int, bool) { return -before, len(numbers) == len(b.ports) },
}

// ways gives how groups of numbers can be put to banks: each to the only bank
// that has all its numbers, and goes by the group's number. Which of a bank's
// numbers that is, whether it counts from 0, and how ports are counted must be
// one for all groups.
func ways(groups map[int][]int, banks []*bank) (all []joined) {
	add := func(of func(*bank, int) bool) {
		for _, by := range shifts {
			way := way(groups, banks, of, by)
			if way != nil && !slices.ContainsFunc(all, func(other joined) bool { return maps.Equal(way, other) }) {
				all = append(all, way)
			}
		}
	}
	for level := range 3 {
		goesBy := func(b *bank, number int) bool { return level < len(b.numbers) && b.numbers[level] == number }
		add(goesBy)
		if slices.ContainsFunc(banks, func(b *bank) bool { return goesBy(b, 0) }) {
			add(func(b *bank, group int) bool { return goesBy(b, group-1) })
		}
	}
	if len(all) == 0 && len(groups) == 1 { // then the number of the group tells nothing
		add(func(*bank, int) bool { return true })
	}
	return all
}

// way puts all groups to banks; nil where one of them has none, or several.
func way(groups map[int][]int, banks []*bank, of func(*bank, int) bool, shift shift) joined {
	found := joined{}
	for group, numbers := range groups {
		var fit *bank
		before := before(groups, group)
		for _, b := range banks {
			if by, ok := shift(b, numbers, before); !ok || !of(b, group) || !b.covers(numbers, by) {
				continue
			}
			if fit != nil {
				return nil
			}
			fit = b
		}
		if fit == nil {
			return nil
		}
		by, _ := shift(fit, numbers, before)
		for _, n := range numbers {
			found[outlet{group, n}] = fit.ports[n+by]
		}
	}
	if len(byPort(found)) != len(found) {
		return nil
	}
	return found
}

// through gives the ways in which the numbers of the only group, 1, may run on
// through the boxes of a stack: the first ports of each, as many in all. The ports
// beyond those feed nothing: where they are counted along, gaps show it, else it is
// a guess that those which feed are as many in each box.
func through(groups map[int][]int, banks []*bank) (sure, guesses []joined) {
	numbers := slices.Sorted(slices.Values(groups[1]))
	if len(groups) != 1 || len(numbers) == 0 || numbers[0] != 1 {
		return nil, nil
	}
	stacks := map[string][]*bank{} // those that differ in their first number alone
	for _, b := range banks {
		if len(b.numbers) > 0 && !b.unsure {
			key := fmt.Sprint(b.numbers[1:])
			stacks[key] = append(stacks[key], b)
		}
	}
	for _, stack := range stacks {
		slices.SortFunc(stack, func(a, b *bank) int { return cmp.Compare(a.numbers[0], b.numbers[0]) })
		each := len(numbers) / len(stack)
		like := !slices.ContainsFunc(stack, func(b *bank) bool { return len(b.ports) != len(stack[0].ports) })
		if len(stack) < 2 || !like || each*len(stack) != len(numbers) || len(numbers) <= len(stack[0].ports) {
			continue
		}
		size, apart := len(stack[0].ports), numbers[each]-numbers[0]
		switch way := dealt(numbers, stack, each, apart); {
		case way == nil:
		case apart >= size:
			sure = append(sure, way)
		case apart == each:
			guesses = append(guesses, way)
		}
	}
	return sure, guesses
}

// dealt gives each box so many of the numbers, which start so many apart; nil
// where they do not.
func dealt(numbers []int, stack []*bank, each, apart int) joined {
	way := joined{}
	for n, b := range stack {
		ports := slices.Sorted(maps.Keys(b.ports))
		for i, number := range numbers[n*each : (n+1)*each] {
			if number != n*apart+i+1 || i >= len(ports) {
				return nil
			}
			way[outlet{1, number}] = b.ports[ports[i]]
		}
	}
	return way
}

// before counts the numbers of the groups before one.
func before(groups map[int][]int, group int) (n int) {
	for other, numbers := range groups {
		if other < group {
			n += len(numbers)
		}
	}
	return n
}

// covers tells whether a bank has ports of all these numbers, shifted.
func (b *bank) covers(numbers []int, by int) bool {
	return !b.unsure && !slices.ContainsFunc(numbers, func(n int) bool { _, has := b.ports[n+by]; return !has })
}
