using System.Globalization;
using System.Net;
using System.Security.Cryptography;
using System.Text;

namespace Traceability.Service.Log;

/// <summary>What came of asking a witness.</summary>
public enum WitnessState
{
    /// <summary>Its cosignature of this checkpoint is kept.</summary>
    Cosigned,

    /// <summary>It did not answer, or not in a way that tells anything.</summary>
    Away,

    /// <summary>It cosigned a larger log than this checkpoint's.</summary>
    Ahead,

    /// <summary>It says that this checkpoint does not continue what it cosigned.</summary>
    Contradicts,
}

/// <summary>Asks the witnesses that have an address for their cosignatures (C2SP tlog-witness 1.0, published).</summary>
public sealed partial class Cosigning(Witnesses witnesses, CosignatureStore store, LogReader reader, ILogger<Cosigning> log) : IDisposable
{
    private readonly HttpClient _http = new(new SocketsHttpHandler { AllowAutoRedirect = false, PooledConnectionLifetime = TimeSpan.FromMinutes(5) })
    {
        Timeout = TimeSpan.FromSeconds(5),
        MaxResponseContentBufferSize = 64 * 1024,
    };

    /// <summary>Whether any witness can be asked.</summary>
    public bool HasAny => witnesses.All.Any(w => w.Url is not null);

    /// <summary>Asks every witness for a checkpoint.</summary>
    public async Task<IReadOnlyList<(Witness Witness, WitnessState State)>> AskAsync(SealedCheckpoint checkpoint, CancellationToken cancellation)
    {
        var asked = witnesses.All.Where(w => w.Url is not null).Select(async w => (w, await AskAsync(w, checkpoint, cancellation)));
        return await Task.WhenAll(asked);
    }

    private async Task<WitnessState> AskAsync(Witness witness, SealedCheckpoint checkpoint, CancellationToken cancellation)
    {
        try
        {
            var from = await store.LastAsync(witness, checkpoint.Origin, cancellation);
            if (from == checkpoint.Size)
            {
                return WitnessState.Cosigned;
            }

            for (var attempt = 0; attempt < 2; attempt++)
            {
                if (from > checkpoint.Size)
                {
                    return WitnessState.Ahead;
                }

                using var content = new StringContent(await RequestAsync(from, checkpoint, cancellation), Encoding.UTF8, "text/plain");
                using var answer = await _http.PostAsync(new Uri(witness.Url!, "add-checkpoint"), content, cancellation);
                var body = await answer.Content.ReadAsStringAsync(cancellation);
                switch (answer.StatusCode)
                {
                    case HttpStatusCode.OK:
                        if (await store.TakeAsync($"{checkpoint.Note[..(checkpoint.Note.IndexOf("\n\n", StringComparison.Ordinal) + 1)]}\n{body}", cancellation) is > 0)
                        {
                            return WitnessState.Cosigned;
                        }

                        LogOdd(log, witness.Name, "its answer is not a cosignature by the key in the settings");
                        return WitnessState.Away;
                    case HttpStatusCode.Conflict when long.TryParse(body.TrimEnd('\n'), NumberStyles.None, CultureInfo.InvariantCulture, out var known) && known != from:
                        from = known;
                        break;
                    case HttpStatusCode.UnprocessableEntity:
                        LogContradicts(log, witness.Name, checkpoint.Size, body.Length > 300 ? body[..300] : body);
                        return WitnessState.Contradicts;
                    default:
                        LogOdd(log, witness.Name, string.Create(CultureInfo.InvariantCulture, $"it answered {(int)answer.StatusCode}"));
                        return WitnessState.Away;
                }
            }

            return WitnessState.Away;
        }
        catch (Exception e) when (!cancellation.IsCancellationRequested && e is HttpRequestException or TaskCanceledException or IOException or InvalidOperationException)
        {
            LogOdd(log, witness.Name, e.Message);
            return WitnessState.Away;
        }
    }

    /// <summary>The request for a cosignature: as a body, or as a file for a witness without a connection.</summary>
    /// <param name="from">Size that the witness cosigned last; 0 for none.</param>
    /// <param name="checkpoint">The checkpoint to cosign.</param>
    /// <param name="cancellation">Stops it.</param>
    public async Task<string> RequestAsync(long from, SealedCheckpoint checkpoint, CancellationToken cancellation)
    {
        var proof = await reader.ContinuationAsync(from, checkpoint, cancellation);
        return string.Create(CultureInfo.InvariantCulture, $"old {from}\n{string.Concat(proof.Select(h => Convert.ToBase64String(h) + "\n"))}\n{checkpoint.Note}");
    }

    /// <summary>The newest checkpoint of a log that a witness shows; null where it shows none.</summary>
    /// <exception cref="HttpRequestException">It cannot be asked.</exception>
    public async Task<string?> ShownByAsync(Witness witness, string origin, CancellationToken cancellation)
    {
        var hash = Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(origin)));
        using var answer = await _http.GetAsync(new Uri(witness.Url!, $"{hash}/checkpoint"), cancellation);
        if (answer.StatusCode == HttpStatusCode.NotFound)
        {
            return null;
        }

        answer.EnsureSuccessStatusCode();
        return await answer.Content.ReadAsStringAsync(cancellation);
    }

    /// <inheritdoc/>
    public void Dispose() => _http.Dispose();

    [LoggerMessage(LogLevel.Warning, "Witness {Witness} gave no cosignature: {Why}")]
    private static partial void LogOdd(ILogger logger, string witness, string why);

    [LoggerMessage(LogLevel.Critical, "Witness {Witness} says that the log of {Size} records does not continue what it saw: {Why}")]
    private static partial void LogContradicts(ILogger logger, string witness, long size, string why);
}
