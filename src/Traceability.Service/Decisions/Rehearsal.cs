using System.Data;
using Npgsql;
using Traceability.Core.Records;
using Traceability.Service.Operations;
using Traceability.Service.Recording;

namespace Traceability.Service.Decisions;

/// <summary>
/// Takes what bears on many units twice: first on a snapshot, where nobody waits and nothing is written, then in the one writing transaction, where each
/// judgement is taken from the first time and only asked for what came since. Where something came it begins anew, and judges no more than that touched.
/// </summary>
public sealed class Rehearsal(Recorder recorder, NpgsqlDataSource source, TimeProvider clock, PlantTime time)
{
    // Our own choice. Each further turn judges only what changed during the one before, some tens of milliseconds for a unit.
    private const int Turns = 6;

    /// <param name="stands">Whether an answer is to be written. One that is not is given without the writing transaction.</param>
    /// <returns>Null where records that bear on it came each time.</returns>
    internal async Task<T?> DecideAsync<T>(Func<Sitting, Task<T>> decide, Func<T, bool> stands, string person, string assurance, CancellationToken cancel) where T : class
    {
        var foreseen = new Foreseen(time.Local(clock.GetUtcNow()));
        for (var turn = 0; turn < Turns; turn++)
        {
            await using (var connection = await source.OpenConnectionAsync(cancel))
            await using (var snapshot = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancel))
            {
                // Whatever the rehearsal would write by mistake fails here.
                await using (var only = new NpgsqlCommand("set transaction read only", connection)) await only.ExecuteNonQueryAsync(cancel);
                await foreseen.CatchUpAsync(connection, cancel);
                using var span = Telemetry.Source.StartActivity("rehearse");
                var rehearsed = await decide(new Sitting(connection, null, foreseen, time, foreseen.Now, person, assurance));
                if (!stands(rehearsed)) return rehearsed;
            }

            await using var writing = await recorder.BeginAsync(cancel);
            await foreseen.CatchUpAsync(writing.Connection, cancel);
            try
            {
                var decided = await decide(new Sitting(writing.Connection, writing, foreseen, time, foreseen.Now, person, assurance));
                if (stands(decided)) await writing.CommitAsync(cancel);
                return decided;
            }
            catch (ChangedMeanwhileException)
            {
                // Rolled back with the transaction; the next turn judges what changed.
            }
        }

        return null;
    }
}
