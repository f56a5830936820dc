using System.Security.Cryptography;
using System.Text;
using Npgsql;
using NpgsqlTypes;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;

namespace Traceability.Service.Assembling;

/// <summary>
/// The view that a recall reads: of each unit a short card and which subjects it reaches. Written by the assembler with
/// the unit's row; may lag as that does; made anew with it. The subjects of a unit seldom change, so they are written
/// only when their fingerprint does.
/// </summary>
public static class ReachRows
{
    /// <summary>Writes card and reach of some units inside the assembler's transaction.</summary>
    public static async Task WriteAsync(
        NpgsqlConnection connection, NpgsqlTransaction transaction, IReadOnlyList<(UnitRow Row, UnitFile File, IReadOnlyList<ReachedSubject> Reach)> units, CancellationToken cancel)
    {
        var changed = new List<(int No, IReadOnlyList<ReachedSubject> Reach)>();
        await using (var cards = new NpgsqlBatch(connection, transaction))
        {
            foreach (var (row, file, reach) in units) cards.BatchCommands.Add(Card(row, file, Fingerprint(reach)));
            await using var reader = await cards.ExecuteReaderAsync(cancel);
            for (var i = 0; i < units.Count; i++)
            {
                await reader.ReadAsync(cancel);
                if (!reader.GetBoolean(1)) changed.Add((reader.GetInt32(0), units[i].Reach));
                await reader.NextResultAsync(cancel);
            }
        }

        if (changed.Count == 0) return;
        await using var change = new NpgsqlBatch(connection, transaction);
        foreach (var (no, reach) in changed)
        {
            var subjects = reach.Select(r => r.Subject.Key).ToArray();
            change.BatchCommands.Add(new("delete from trace.reach where unit_no = $1 and subject <> all($2)") { Parameters = { new() { Value = no }, new() { Value = subjects } } });
            change.BatchCommands.Add(new("""
                insert into trace.reach (subject, unit_no, how, certain, named)
                select s, $1, h, c, n from unnest($2, $3, $4, $5) as r(s, h, c, n)
                on conflict (subject, unit_no) do update set how = excluded.how, certain = excluded.certain, named = excluded.named
                where (reach.how, reach.certain, reach.named) is distinct from (excluded.how, excluded.certain, excluded.named)
                """)
            {
                Parameters =
                {
                    new() { Value = no }, new() { Value = subjects }, new() { Value = reach.Select(r => (short)r.How).ToArray() },
                    new() { Value = reach.Select(r => r.Certain).ToArray() }, new() { Value = reach.Select(r => r.Named).ToArray() },
                },
            });
        }

        await change.ExecuteNonQueryAsync(cancel);
    }

    private static NpgsqlBatchCommand Card(UnitRow row, UnitFile file, Guid print)
    {
        var shipped = file.Last<UnitShipped>()?.Fact;
        return new("""
            with had as (select reach from trace.unit_card where unit = $1)
            , put as (
                insert into trace.unit_card (unit, phase, mark, contract, place, delivery, destination, position, reach) values ($1, $2, $3, $4, $5, $6, $7, $8, $9)
                on conflict (unit) do update set phase = excluded.phase, mark = excluded.mark, contract = excluded.contract, place = excluded.place,
                    delivery = excluded.delivery, destination = excluded.destination, position = excluded.position, reach = excluded.reach
                returning no)
            select put.no, had.reach is not distinct from $9 from put left join had on true
            """)
        {
            Parameters =
            {
                new() { Value = row.Id }, new() { Value = row.Phase.ToString() }, Text(row.Mark), Text(row.Contract), Text(row.Place),
                Text(shipped?.Delivery), Text(shipped?.Destination), new() { Value = row.Position }, new() { Value = print },
            },
        };
    }

    /// <summary>By which a change of what a unit reaches is seen.</summary>
    public static Guid Fingerprint(IReadOnlyList<ReachedSubject> reach)
    {
        var text = new StringBuilder();
        foreach (var r in reach) text.Append(r.Subject.Key).Append('\n').Append((int)r.How).Append(r.Certain).Append(r.Named).Append('\n');
        return new Guid(SHA256.HashData(Encoding.UTF8.GetBytes(text.ToString())).AsSpan(0, 16));
    }

    private static NpgsqlParameter Text(string? value) => new() { Value = (object?)value ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Text };
}
