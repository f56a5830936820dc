using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Dossiers;

/// <summary>Limits of a published profile, each with the person who compared it with a page of its document since.</summary>
public static class Confirmations
{
    /// <summary>The publication with the confirmations of its own version applied; others are passed over.</summary>
    public static Entry<ProfilePublished> Apply(Entry<ProfilePublished> published, IEnumerable<Entry<ProfileConfirmed>> confirmations)
    {
        // The last word on a limit counts: a page may be read again in a later printing.
        var last = confirmations.Where(c => c.Fact.About == published.Fact.About && c.Person is not null)
            .GroupBy(c => c.Fact.Key, StringComparer.Ordinal).ToDictionary(g => g.Key, g => g.Last(), StringComparer.Ordinal);
        if (last.Count == 0) return published;
        return published with
        {
            Fact = published.Fact with
            {
                Limits = [.. published.Fact.Limits.Select(Confirmed)],
                PlanLimits = published.Fact.PlanLimits is { } plan ? [.. plan.Select(Confirmed)] : null,
            },
        };

        Limit Confirmed(Limit limit) => last.GetValueOrDefault(limit.Key) is { } c
            ? limit with { ConfirmedBy = c.Person, ConfirmedOn = c.Fact.ConfirmedOn, ConfirmedPage = c.Fact.Page }
            : limit;
    }
}
