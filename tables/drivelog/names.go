package drivelog

import "calsplice/tables/drivelog/channel"

// ChannelFor is the channel, logged or derived, that measures an axis
// quantity: "engine speed" is engine_speed.
func ChannelFor(quantity string) (name string, ok bool) { return channel.For(quantity) }

// ChannelUnit is the unit in which a channel's values are read, whatever the
// log's; "" for channels without a unit and for names that are not known.
func ChannelUnit(name string) string { return channel.UnitOf(name) }

// Channels names the channels that headers are recognised as, in the order in
// which people are shown them, and then what is derived from them.
func Channels() (logged, derived []string) { return channel.Names() }
