using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Holds;

/// <summary>
/// Everything that ends a release of a hold: undoing, what it covers no longer being there, a return, a rejection or another
/// contract of the unit, always; time, rain, a moved cage, a new revision and a quarantined lot where the profile's rule lists them.
/// </summary>
internal static class Endings
{
    /// <param name="validUntil">Until when the release itself says that it stands.</param>
    public static IReadOnlyList<Ending> Of(Matter matter, HoldKind kind, Entry permit, ReleaseScope? scope, DateTimeOffset? validUntil)
    {
        var rule = HoldRules.Of(matter, kind);
        var endings = Undone(matter, permit).Concat(Gone(matter, kind)).Concat(Scopes.Left(matter, kind, permit, scope)).Concat(Times(permit, rule, validUntil));
        foreach (var cause in (rule?.ExpiresOn ?? []).Distinct())
        {
            endings = endings.Concat(cause switch
            {
                ExpiryCause.Rain => Rain(matter),
                ExpiryCause.CageMoved => CageMoved(matter, scope),
                ExpiryCause.NewRevision => NewRevision(matter),
                _ => Quarantined(matter),
            });
        }

        // What certainly came before the release was known to who released.
        return [.. endings.Where(e => e.FromTheStart || e.At.Compare(permit.At) != TimeOrder.Before)];
    }

    // What the agency released the plant does not undo.
    private static IEnumerable<Ending> Undone(Matter matter, Entry permit) => permit.Fact is not IDecision ? [] :
        matter.File.Of<ReleaseUndone>().Where(u => u.Fact.Release == permit.Original.Id)
            .Select(u => new Ending(u.At, EndedBy.Undone, $"it was undone on {HoldRules.Time(u.At.At)}: {u.Fact.Reason}", u.Id));

    private static IEnumerable<Ending> Gone(Matter matter, HoldKind kind)
    {
        foreach (var change in matter.File.ContractChanges)
            yield return new(change.Known, EndedBy.Scope, $"the unit came under another contract on {HoldRules.Time(change.At.At)}", change.Source.Id);
        foreach (var entry in matter.File.Entries)
        {
            switch (entry.Fact)
            {
                case UnitRejected or AgencyRejected:
                    yield return new(entry.Known, EndedBy.Rejected, $"the unit was rejected on {HoldRules.Time(entry.At.At)}", entry.Source.Id);
                    break;
                case UnitReturned returned when kind == HoldKind.Ship:
                    yield return new(entry.Known, EndedBy.Returned, $"the unit came back on {HoldRules.Time(entry.At.At)}: {returned.Reason}", entry.Source.Id);
                    break;
            }
        }
    }

    private static IEnumerable<Ending> Times(Entry permit, HoldRule? rule, DateTimeOffset? validUntil)
    {
        var until = validUntil;
        if (rule?.ValidHours is { } hours)
        {
            var byRule = Evidence.Later(permit.At.At, TimeSpan.FromTicks((long)Math.Min(hours.Value * TimeSpan.TicksPerHour, long.MaxValue / 2)));
            if (until is null || byRule < until) until = byRule;
        }

        if (until is { } end) yield return Stated(end, $"it was valid until {HoldRules.Time(end)}", null);
    }

    private static IEnumerable<Ending> Rain(Matter matter) =>
        matter.File.Of<WeatherRead>().Where(w => w.Fact.RainedIn && w.Fact.Units.Any(u => Subject.Unit(u) == matter.File.Unit))
            .Select(w => new Ending(w.At, EndedBy.Event, $"rain fell into the open form, read on {HoldRules.Time(w.At.At)}", w.Id));

    private static IEnumerable<Ending> CageMoved(Matter matter, ReleaseScope? scope)
    {
        var cage = scope?.Cage is { } covered ? Subject.Cage(covered) : matter.File.CageSubject;
        var moved = matter.File.Of<CageMoved>().Where(m => m.Fact.About == cage)
            .Select(m => new Ending(m.At, EndedBy.Event, $"cage {m.Fact.Cage} was moved to {m.Fact.To} on {HoldRules.Time(m.At.At)}", m.Id));
        return moved.Concat(matter.File.Of<CageSwapped>().Where(s => s.Fact.About == matter.File.Unit)
            .Select(s => new Ending(s.At, EndedBy.Event, $"cage {s.Fact.CageOut} was exchanged for {s.Fact.CageIn} on {HoldRules.Time(s.At.At)}", s.Id)));
    }

    private static IEnumerable<Ending> NewRevision(Matter matter)
    {
        if (matter.File.Scheduled is not { } scheduled) yield break;
        var own = matter.File.Drawing?.Fact.ApprovedOn;
        foreach (var later in matter.File.Of<DrawingApproved>())
        {
            if (later.Fact.Drawing != scheduled.Fact.Drawing || later.Fact.Revision == scheduled.Fact.Revision || later.Fact.ApprovedOn < own) continue;
            var known = later.Whole.Known;
            var day = matter.File.Time.StartOf(later.Fact.ApprovedOn);
            yield return InForce(known, day, $"revision {later.Fact.Revision} of drawing {later.Fact.Drawing} was approved on {later.Fact.ApprovedOn:yyyy-MM-dd}", later.Id);
        }

        foreach (var gone in matter.File.Of<DrawingSuperseded>())
        {
            if (gone.Fact.Drawing != scheduled.Fact.Drawing || gone.Fact.Revision != scheduled.Fact.Revision) continue;
            yield return InForce(gone.Whole.Known, gone.Fact.From, $"revision {gone.Fact.Revision} of drawing {gone.Fact.Drawing} may not be cast to from {HoldRules.Time(gone.Fact.From)}", gone.Id);
        }
    }

    private static IEnumerable<Ending> Quarantined(Matter matter) =>
        matter.File.Of<LotQuarantined>().Where(q => matter.File.Reached.Contains(q.Fact.About))
            .Select(q => new Ending(q.Whole.Known, EndedBy.Event,
                $"lot {q.Fact.About.Id}, which {(matter.File.OnlyPossible.Contains(q.Fact.About) ? "may be" : "is")} in the unit, was quarantined on {HoldRules.Time(q.At.At)}", q.Id));

    // Announced for later it ends the release then; known only afterwards it ends it when it came to be known.
    private static Ending InForce(Moment known, DateTimeOffset from, string cause, Guid record) =>
        from > known.At ? Stated(from, cause, record) : new(known, EndedBy.Event, cause, record);

    private static Ending Stated(DateTimeOffset at, string cause, Guid? record) =>
        new(new Moment(at, TimeSpan.Zero, ""), record is null ? EndedBy.Time : EndedBy.Event, cause, record) { Stated = true };
}
