using Npgsql;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Service.Decisions;

/// <summary>A letter that a decision rests on. Its bytes are named by their hash.</summary>
/// <param name="Sha256">SHA-256 of the document, 64 lower-case hex digits.</param>
public sealed record Letter(string Title, string Sha256, string MediaType = "application/pdf");

internal static class Documents
{
    /// <summary>Attaches a letter to a subject in the same transaction.</summary>
    public static Task AttachAsync(Sitting sitting, Subject subject, Letter letter, CancellationToken cancel) =>
        sitting.WriteAsync(new DocumentAttached(subject.Key, letter.Title, letter.Sha256, letter.MediaType), cancel);

    /// <summary>The counted facts of one type about a subject.</summary>
    public static async Task<IReadOnlyList<T>> AboutAsync<T>(NpgsqlConnection connection, PlantTime time, Subject subject, CancellationToken cancel) where T : IFact
    {
        var dossier = await Linking.DossierStore.LoadAsync(connection, time, subject, null, cancel);
        return [.. Core.Dossiers.Assemble.Counted(dossier.Records, time).Where(e => e.Fact is T && e.Fact.About == subject).Select(e => (T)e.Fact)];
    }
}
