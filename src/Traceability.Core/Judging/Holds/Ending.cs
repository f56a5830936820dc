using Traceability.Core.Records;

namespace Traceability.Core.Judging.Holds;

internal enum EndedBy { Time, Event, Undone, Scope, Returned, Rejected }

/// <summary>Something that ends a release.</summary>
/// <param name="At">When it ended.</param>
/// <param name="Cause">Why, as the end of a sentence: "rain fell into the open form on ...".</param>
/// <param name="Record">The record that says so; null for a time stated in the release or its rule.</param>
internal sealed record Ending(Moment At, EndedBy By, string Cause, Guid? Record)
{
    /// <summary>A moment that is stated and has to come, not one that a record reports.</summary>
    public bool Stated { get; init; }

    /// <summary>It never covered what is there.</summary>
    public bool FromTheStart { get; init; }
}

internal enum Standing { Stands, Ended, CannotTell, Later }

/// <summary>Whether a release stands at a step or now, until when, and what ended it.</summary>
internal sealed record Stand(Standing Standing, Ending? Ended, DateTimeOffset? Until)
{
    /// <summary>
    /// At a step already taken. What ended it afterwards changes nothing; where two clocks cannot tell what came first, nobody can.
    /// </summary>
    public static Stand At(Moment permit, IEnumerable<Ending> endings, Moment step)
    {
        var order = permit.Compare(step);
        if (order == TimeOrder.After) return new(Standing.Later, null, null);
        Ending? ended = null, unclear = null;
        foreach (var ending in endings)
        {
            var before = ending.FromTheStart ? TimeOrder.Before : ending.At.Compare(step);
            if (before == TimeOrder.After) continue;
            var sure = ending.FromTheStart || (before == TimeOrder.Before && ending.At.Compare(permit) == TimeOrder.After);
            if (sure) ended = Earlier(ended, ending);
            else unclear = Earlier(unclear, ending);
        }

        return ended is not null ? new(Standing.Ended, ended, null)
            : order == TimeOrder.CannotTell || unclear is not null ? new(Standing.CannotTell, unclear, null)
            : new(Standing.Stands, null, null);
    }

    /// <summary>Now. What may have come before the release or after it counts as after: who released looks again.</summary>
    public static Stand Now(Matter matter, IEnumerable<Ending> endings)
    {
        Ending? ended = null, stated = null;
        foreach (var ending in endings)
        {
            if (ending.Stated) stated = Earlier(stated, ending);
            else ended = Earlier(ended, ending);
        }

        if (ended is not null) return new(Standing.Ended, ended, null);
        return stated is not null && matter.HasCome(stated.At.At) ? new(Standing.Ended, stated, null) : new(Standing.Stands, null, stated?.At.At);
    }

    private static Ending Earlier(Ending? one, Ending other) =>
        one is null || (other.At.At, other.Cause).CompareTo((one.At.At, one.Cause)) < 0 ? other : one;
}
