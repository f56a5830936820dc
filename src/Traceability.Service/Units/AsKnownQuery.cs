using System.Globalization;
using Microsoft.AspNetCore.Mvc;
using Traceability.Service.Linking;
using Traceability.Service.Operations;

namespace Traceability.Service.Units;

/// <summary>Reads "position" or "at" of a request.</summary>
public static class AsKnownQuery
{
    /// <summary>The moment asked for, null when none is; or what is wrong with the question.</summary>
    public static async Task<(AsKnown? AsKnown, ProblemDetails? Problem)> ReadAsync(DossierStore dossiers, string? position, string? at, CancellationToken cancel)
    {
        if (string.IsNullOrWhiteSpace(position)) position = null;
        if (string.IsNullOrWhiteSpace(at)) at = null;
        if (position is not null && at is not null)
            return (null, Problems.Shape([new("at", "must not stand beside position", "Give a log position or a moment.")]));
        long? number = null;
        if (position is not null)
        {
            if (!long.TryParse(position, NumberStyles.None, CultureInfo.InvariantCulture, out var parsed))
                return (null, Problems.Shape([new("position", "must be a log position, a whole number from 0", "Take it from a record or a receipt.")]));
            number = parsed;
        }

        DateTimeOffset? moment = null;
        if (at is not null && (moment = AsKnown.Moment(at)) is null)
            return (null, Problems.Shape([new("at", "must be a time with its offset", "Write for example 2026-05-04T07:00:00-05:00.")]));
        return (await dossiers.AsKnownAsync(number, moment, cancel), null);
    }
}
