using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Holds;

/// <summary>What a release covers against what is there: another revision, cage, form or heat ends it.</summary>
internal static class Scopes
{
    public static IEnumerable<Ending> Left(Matter matter, HoldKind kind, Entry permit, ReleaseScope? scope)
    {
        if (scope is null) return [];
        var file = matter.File;
        return Other(permit, scope.Revision, "revision", file.Of<UnitScheduled>().Where(s => s.Fact.About == file.Unit).Select(s => (s.Whole, (string?)s.Fact.Revision)))
            .Concat(Other(permit, scope.Cage, "cage", Cages(file)))
            .Concat(Other(permit, scope.Form, "form", Forms(file)))
            // Out of it the form is used for other units.
            .Concat(kind <= HoldKind.Place ? Rebuilt(file, scope.Form) : [])
            .Concat(Heats(file, permit, scope));
    }

    // The last thing said before the release is what it was made for; whatever is said afterwards must still be that.
    private static IEnumerable<Ending> Other(Entry permit, string? covered, string what, IEnumerable<(Entry Entry, string? Is)> said)
    {
        if (covered is null) yield break;
        (Entry Entry, string? Is)? before = null;
        foreach (var now in said)
        {
            if (now.Entry.Known.Compare(permit.At) == TimeOrder.Before) before = now;
            else if (now.Is != covered) yield return new(now.Entry.Known, EndedBy.Scope, $"it covers {what} {covered}, and since {HoldRules.Time(now.Entry.At.At)} it is {now.Is}", now.Entry.Source.Id);
        }

        if (before is { } known && known.Is != covered)
            yield return new(permit.At, EndedBy.Scope, $"it covers {what} {covered}, and it was {known.Is}", known.Entry.Source.Id) { FromTheStart = true };
    }

    private static IEnumerable<(Entry, string?)> Cages(UnitFile file)
    {
        var inside = file.Entries.Where(e => e.Fact.About == file.Unit)
            .Select(e => (e, e.Fact switch { CloseUpInspected c => c.Cage, CageSet s => s.Cage, CageSwapped s => s.CageIn, _ => null })).Where(x => x.Item2 is not null).ToList();
        return inside.Count > 0 ? inside : file.Of<CageTied>().Where(c => Subject.Unit(c.Fact.Unit) == file.Unit).Select(c => (c.Whole, (string?)c.Fact.Cage));
    }

    private static IEnumerable<(Entry, string?)> Forms(UnitFile file) =>
        file.Entries.Where(e => e.Fact.About == file.Unit)
            .Select(e => (e, e.Fact switch { CloseUpInspected c => c.Form, PrePourInspected p => p.Form, CageSet s => s.Form, FormClosed f => f.Form, _ => null })).Where(x => x.Item2 is not null);

    private static IEnumerable<Ending> Rebuilt(UnitFile file, string? form) => form is null ? [] :
        file.Of<FormRebuilt>().Where(r => r.Fact.Form == form)
            .Select(r => new Ending(r.At, EndedBy.Scope, $"form {form} was rebuilt on {HoldRules.Time(r.At.At)}: {r.Fact.Changes}", r.Id));

    private static IEnumerable<Ending> Heats(UnitFile file, Entry permit, ReleaseScope scope)
    {
        if (scope.Heats is not { } covered || file.Cage is not { } cage || (scope.Cage is { } named && named != cage.Fact.Cage)) yield break;
        var heats = covered.Select(h => h.Subject).ToHashSet();
        if (cage.Fact.Bars.SelectMany(b => b.Lots).Select(l => l.Subject).Where(l => !heats.Contains(l)).Order().FirstOrDefault() is not { Key: not null } other) yield break;
        var known = cage.Whole.Known;
        yield return new(known, EndedBy.Scope, $"it does not cover heat {other.Id} of cage {cage.Fact.Cage}", cage.Id) { FromTheStart = known.Compare(permit.At) == TimeOrder.Before };
    }
}
