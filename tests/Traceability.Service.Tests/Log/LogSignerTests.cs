using System.Text;
using System.Text.Json;
using Traceability.Core.Records;
using Traceability.Service.Log;

namespace Traceability.Service.Tests.Log;

public sealed class LogSignerTests : IAsyncLifetime
{
    private readonly LogDatabase _log = new();

    public Task InitializeAsync() => _log.InitializeAsync();

    public Task DisposeAsync() => _log.DisposeAsync();

    private static byte[] RootOf(int size) => Merkle.Root(Enumerable.Range(0, size).Select(i => LogDatabase.LeafHash(i)));

    private async Task<LogContradictionException> RefusesAsync(LogSigner signer)
    {
        var before = await _log.AskAsync<long>("select count(*) from trace.checkpoint");
        var own = File.Exists(_log.Options.StateFile) ? await File.ReadAllTextAsync(_log.Options.StateFile) : null;

        var refusal = await Assert.ThrowsAsync<LogContradictionException>(() => signer.SealOnceAsync(default));

        Assert.Equal(refusal.Message, signer.Refusal);
        Assert.Equal(before, await _log.AskAsync<long>("select count(*) from trace.checkpoint"));
        Assert.Equal(own, File.Exists(_log.Options.StateFile) ? await File.ReadAllTextAsync(_log.Options.StateFile) : null);
        return refusal;
    }

    [Fact]
    public void Whoever_asks_first_for_the_key_on_a_first_start_all_get_the_one_that_the_file_keeps()
    {
        for (var start = 0; start < 20; start++)
        {
            var signer = new LogSigner(_log.Source, _log.Options with { KeyFile = Path.Combine(Path.GetDirectoryName(_log.Options.KeyFile)!, $"first-{start}.pem") }, TimeProvider.System, Microsoft.Extensions.Logging.Abstractions.NullLogger<LogSigner>.Instance);
            using var together = new Barrier(4);
            var keys = new byte[4][];
            var askers = Enumerable.Range(0, 4).Select(i => new Thread(() =>
            {
                together.SignalAndWait();
                keys[i] = signer.Key.PublicKey;
            })).ToList();
            askers.ForEach(a => a.Start());
            askers.ForEach(a => a.Join());

            var kept = LogKey.Load(Path.Combine(Path.GetDirectoryName(_log.Options.KeyFile)!, $"first-{start}.pem")).PublicKey;
            Assert.All(keys, k => Assert.Equal(kept, k));
        }
    }

    [Fact]
    public async Task An_empty_log_is_not_sealed()
    {
        Assert.Null(await _log.Signer().SealOnceAsync(default));
        Assert.Null(await _log.Reader.LatestAsync(default));
    }

    [Fact]
    public async Task What_is_committed_is_sealed_once_and_by_the_key()
    {
        var signer = _log.Signer();
        await _log.AddAsync(5);

        var first = await signer.SealOnceAsync(default);
        Assert.Null(await signer.SealOnceAsync(default));
        await _log.AddAsync(700);
        var second = await signer.SealOnceAsync(default);

        Assert.Equal((5, 705), (first!.Size, second!.Size));
        Assert.Equal(RootOf(705), second.Root);
        Assert.Equal(
            new Checkpoint("plant.example/records", 705, RootOf(705)).Text(), Checkpoint.Open(second.Note, signer.Key.PublicKey)!.Text());
        Assert.Equal(second.Note, (await _log.Reader.LatestAsync(default))!.Note);
        Assert.Null(signer.Refusal);
    }

    [Fact]
    public async Task A_leaf_not_yet_committed_is_not_sealed()
    {
        await _log.AddAsync(3);
        await using var connection = await _log.Source.OpenConnectionAsync();
        await using var transaction = await connection.BeginTransactionAsync();
        await using var command = connection.CreateCommand();
        command.CommandText =
            """
            insert into trace.record values (4, '00000000-0000-0000-0000-0000000000ff', 'fact');
            insert into trace.log_leaf select 3, position, id, sha256('\x00'::bytea || bytes) from trace.record where position = 4
            """;
        await command.ExecuteNonQueryAsync();

        Assert.Equal(3, (await _log.Signer().SealOnceAsync(default))!.Size);
        await transaction.CommitAsync();
        Assert.Equal(4, (await _log.Signer().SealOnceAsync(default))!.Size);
    }

    [Fact]
    public async Task A_signer_that_is_started_again_goes_on()
    {
        await _log.AddAsync(300);
        await _log.Signer().SealOnceAsync(default);
        await _log.AddAsync(300);

        Assert.Equal(RootOf(600), (await _log.Signer().SealOnceAsync(default))!.Root);
    }

    [Theory]
    [InlineData(299, 300)]
    [InlineData(260, 300)]
    [InlineData(1, 300)]
    [InlineData(0, 3)]
    public async Task A_changed_leaf_is_refused_after_a_start_and_named_where_its_tile_remains(int leaf, int size)
    {
        await _log.AddAsync(size);
        await _log.Signer().SealOnceAsync(default);
        await _log.RunAsync($"update trace.log_leaf set hash = decode(repeat('ab', 32), 'hex') where index = {leaf}");
        await _log.AddAsync(1);

        var refusal = await RefusesAsync(_log.Signer());

        Assert.Contains("not those that were signed", refusal.Message, StringComparison.Ordinal);
        Assert.Equal(
            leaf < size / 256 * 256,
            refusal.Message.Contains($"Leaf {leaf} (record {LogDatabase.RecordId(leaf)}) differs", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData(650)]
    [InlineData(3)]
    [InlineData(511)]
    public async Task A_leaf_changed_while_the_signer_runs_is_refused_with_its_tiles_changed_to_fit(int leaf)
    {
        var signer = _log.Signer();
        await _log.AddAsync(700);
        await signer.SealOnceAsync(default);
        await _log.RunAsync($"update trace.log_leaf set hash = decode(repeat('ab', 32), 'hex') where index = {leaf}");
        await _log.RunAsync(
            $"update trace.log_tile set hashes = overlay(hashes placing decode(repeat('ab', 32), 'hex') from {leaf % 256 * 32 + 1}) where level = 0 and index = {leaf / 256}");

        await RefusesAsync(signer);
    }

    [Fact]
    public async Task A_changed_checkpoint_is_refused()
    {
        await _log.AddAsync(3);
        await _log.Signer().SealOnceAsync(default);
        await _log.RunAsync("update trace.checkpoint set root = decode(repeat('ab', 32), 'hex')");

        Assert.Contains("did not sign", (await RefusesAsync(_log.Signer())).Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(4)]
    [InlineData(298)]
    public async Task A_dropped_leaf_is_refused(int leaf)
    {
        await _log.AddAsync(300);
        await _log.Signer().SealOnceAsync(default);
        await _log.RunAsync($"delete from trace.log_leaf where index = {leaf}");

        var refusal = await RefusesAsync(_log.Signer());

        Assert.Contains($"no leaf {leaf}, but leaf {leaf + 1}", refusal.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_leaf_dropped_before_it_was_sealed_is_refused()
    {
        var signer = _log.Signer();
        await _log.AddAsync(10);
        await signer.SealOnceAsync(default);
        await _log.AddAsync(10);
        await _log.RunAsync("delete from trace.log_leaf where index = 15");

        Assert.Contains("no leaf 15", (await RefusesAsync(signer)).Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_record_that_was_given_no_leaf_is_named_before_anything_after_it_is_signed()
    {
        var signer = _log.Signer();
        await _log.AddAsync(10);
        await signer.SealOnceAsync(default);
        await _log.AddAsync(4);
        await _log.RunAsync("delete from trace.log_leaf where index = 11");
        await _log.RunAsync("update trace.log_leaf set index = 11 where index = 12; update trace.log_leaf set index = 12 where index = 13");

        Assert.Equal($"Record {LogDatabase.RecordId(11)} at position 12 has no leaf.", (await RefusesAsync(signer)).Message);
    }

    [Theory]
    [InlineData("update trace.record set bytes = 'other' where position = 12", "is not the one its leaf was made from: the stored bytes were changed")]
    [InlineData("delete from trace.record where position = 12", "has a leaf and is not stored")]
    [InlineData("update trace.log_leaf set hash = sha256('other') where index = 11", "is not the one its leaf was made from: the stored bytes were changed")]
    public async Task A_leaf_that_is_not_of_its_records_bytes_is_never_signed(string change, string fault)
    {
        var signer = _log.Signer();
        await _log.AddAsync(10);
        await signer.SealOnceAsync(default);
        await _log.AddAsync(4);
        await _log.RunAsync(change);

        Assert.Equal($"Record {LogDatabase.RecordId(11)} at position 12 {fault}.", (await RefusesAsync(signer)).Message);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(1)]
    [InlineData(300)]
    public async Task A_record_that_says_it_was_recorded_before_the_one_in_front_of_it_is_never_signed(int signed)
    {
        var signer = _log.Signer();
        await _log.AddAsync(signed);
        await signer.SealOnceAsync(default);
        await _log.AddAsync(4);
        var at = signed + 2;
        await _log.SayAsync(at - 1, DateTimeOffset.UnixEpoch);
        await _log.SayAsync(at, DateTimeOffset.UnixEpoch.AddTicks(-10));

        Assert.Contains($"at position {at + 1} says that it was recorded at", (await RefusesAsync(signer)).Message, StringComparison.Ordinal);
        Assert.Contains("before the record in front of it", (await RefusesAsync(_log.Signer())).Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_first_new_record_is_compared_with_the_last_that_was_signed_and_equal_times_are_no_fault()
    {
        await _log.AddAsync(3);
        await _log.SayAsync(1, DateTimeOffset.UnixEpoch);
        await _log.SayAsync(2, DateTimeOffset.UnixEpoch);
        var signer = _log.Signer();
        Assert.NotNull(await signer.SealOnceAsync(default));
        await _log.AddAsync(1);
        await _log.SayAsync(3, DateTimeOffset.UnixEpoch.AddTicks(-10));
        Assert.Contains("at position 4 says", (await RefusesAsync(signer)).Message, StringComparison.Ordinal);
        await _log.SayAsync(3, DateTimeOffset.UnixEpoch);
        Assert.Equal(4, (await signer.SealOnceAsync(default))!.Size);
    }

    [Fact]
    public async Task A_record_changed_after_it_was_signed_is_found_while_facts_keep_coming_in()
    {
        await _log.AddAsync(2000);
        var signer = _log.Signer();
        await signer.SealOnceAsync(default);
        await _log.RunAsync("update trace.record set bytes = bytes || ' '::bytea where position = 700");

        // Every pass has something new to sign: there is never a quiet one.
        LogContradictionException? found = null;
        for (var pass = 0; pass < 3 && found is null; pass++)
        {
            await _log.AddAsync(1);
            try
            {
                await signer.SealOnceAsync(default);
            }
            catch (LogContradictionException e)
            {
                found = e;
            }
        }

        Assert.Contains("at position 700", found?.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_record_changed_after_it_was_signed_is_found_in_turn_while_the_signer_runs()
    {
        var signer = _log.Signer();
        await _log.AddAsync(256 * 12);
        await signer.SealOnceAsync(default);
        await _log.RunAsync("update trace.record set bytes = 'other' where position = 2561");

        Assert.Null(await signer.SealOnceAsync(default));
        Assert.StartsWith($"Record {LogDatabase.RecordId(2560)} at position 2561 is not", (await RefusesAsync(signer)).Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_leaf_dropped_with_the_rest_moved_up_is_refused()
    {
        var signer = _log.Signer();
        await _log.AddAsync(10);
        await signer.SealOnceAsync(default);
        await _log.RunAsync("delete from trace.log_leaf where index = 4");
        await _log.RunAsync("update trace.log_leaf set index = index + 100 where index > 4; update trace.log_leaf set index = index - 101 where index > 100");
        await _log.RunAsync("insert into trace.log_leaf select 9, 11, gen_random_uuid(), sha256('later')");

        Assert.Contains("not those that were signed", (await RefusesAsync(signer)).Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(1)]
    [InlineData(299)]
    [InlineData(300)]
    public async Task A_log_that_shrank_is_refused(int lost)
    {
        var signer = _log.Signer();
        await _log.AddAsync(300);
        await signer.SealOnceAsync(default);
        await _log.RunAsync($"delete from trace.log_leaf where index >= {300 - lost}");

        Assert.Contains("shrank", (await RefusesAsync(signer)).Message, StringComparison.Ordinal);
        Assert.Contains("shrank", (await RefusesAsync(_log.Signer())).Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_database_put_back_to_before_the_last_seal_is_refused_even_with_new_leaves_in_place_of_the_lost()
    {
        await _log.AddAsync(300);
        await _log.Signer().SealOnceAsync(default);
        await _log.RunAsync("delete from trace.log_leaf where index >= 290; delete from trace.log_tile; delete from trace.checkpoint; delete from trace.log_origin");
        await _log.RunAsync("insert into trace.log_leaf select i, i + 1000, gen_random_uuid(), sha256(i::text::bytea) from generate_series(290, 400) i");

        Assert.Contains("not those that were signed", (await RefusesAsync(_log.Signer())).Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_missing_signer_file_or_another_key_is_refused()
    {
        await _log.AddAsync(3);
        await _log.Signer().SealOnceAsync(default);
        var state = await File.ReadAllBytesAsync(_log.Options.StateFile);

        File.Delete(_log.Options.StateFile);
        Assert.Contains("is missing", (await RefusesAsync(_log.Signer())).Message, StringComparison.Ordinal);

        await File.WriteAllBytesAsync(_log.Options.StateFile, state);
        File.Delete(_log.Options.KeyFile);
        Assert.Contains("is not the one that signed", (await RefusesAsync(_log.Signer())).Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_damaged_signer_file_is_refused()
    {
        await _log.AddAsync(3);
        await _log.Signer().SealOnceAsync(default);
        var text = await File.ReadAllTextAsync(_log.Options.StateFile);

        await File.WriteAllTextAsync(_log.Options.StateFile, text[..40]);
        await RefusesAsync(_log.Signer());
        await File.WriteAllTextAsync(_log.Options.StateFile, text.Replace("\"size\": 3", "\"size\": 2", StringComparison.Ordinal));
        await RefusesAsync(_log.Signer());
    }

    [Fact]
    public async Task A_stop_between_the_signers_file_and_the_database_is_made_good()
    {
        await _log.AddAsync(600);
        var signed = await _log.Signer().SealOnceAsync(default);
        await _log.RunAsync("delete from trace.log_tile; delete from trace.checkpoint; delete from trace.log_origin");

        await _log.Signer().SealOnceAsync(default);

        Assert.Equal(signed!.Note, (await _log.Reader.LatestAsync(default))!.Note);
        Assert.Equal(2, await _log.AskAsync<long>("select count(*) from trace.log_tile where level = 0"));
        Assert.Equal(64, await _log.AskAsync<int>("select octet_length(hashes) from trace.log_tile where level = 1"));
    }

    [Fact]
    public async Task A_signer_file_behind_the_published_checkpoint_is_taken_up_again_by_proof()
    {
        await _log.AddAsync(300);
        await _log.Signer().SealOnceAsync(default);
        var older = await File.ReadAllBytesAsync(_log.Options.StateFile);
        await _log.AddAsync(300);
        await _log.Signer().SealOnceAsync(default);
        await File.WriteAllBytesAsync(_log.Options.StateFile, older);
        await _log.AddAsync(1);

        Assert.Equal(RootOf(601), (await _log.Signer().SealOnceAsync(default))!.Root);

        await File.WriteAllBytesAsync(_log.Options.StateFile, older);
        await _log.RunAsync("update trace.log_leaf set hash = decode(repeat('ab', 32), 'hex') where index = 400");
        await RefusesAsync(_log.Signer());
    }

    private string Next => _log.Options.StateFile + ".next";

    /// <summary>What a power cut leaves when the rename was not on the disk yet.</summary>
    private async Task<SealedCheckpoint> SealAndLoseTheRenameAsync(byte[]? before)
    {
        var signed = (await _log.Signer().SealOnceAsync(default))!;
        File.Move(_log.Options.StateFile, Next, overwrite: true);
        if (before is not null) await File.WriteAllBytesAsync(_log.Options.StateFile, before);
        return signed;
    }

    [Fact]
    public async Task A_power_cut_after_the_first_seal_that_takes_back_the_rename_does_not_stop_the_signer()
    {
        await _log.AddAsync(9);
        var signed = await SealAndLoseTheRenameAsync(null);

        Assert.Null(await _log.Signer().SealOnceAsync(default));
        await _log.AddAsync(3);
        Assert.Equal(RootOf(12), (await _log.Signer().SealOnceAsync(default))!.Root);
        Assert.False(File.Exists(Next));
        Assert.NotNull(await _log.Reader.ConsistencyAsync(signed.Size, 12, default));
    }

    [Theory]
    [InlineData(0)]
    [InlineData(4)]
    public async Task A_memory_left_empty_of_the_same_log_is_taken_up_by_proof(int since)
    {
        await _log.Signer().SealOnceAsync(default);
        var empty = await File.ReadAllBytesAsync(_log.Options.StateFile);
        await _log.AddAsync(9);
        await _log.Signer().SealOnceAsync(default);
        await File.WriteAllBytesAsync(_log.Options.StateFile, empty);
        if (since > 0) await _log.AddAsync(since);

        var signer = _log.Signer();
        Assert.Equal(since > 0, await signer.SealOnceAsync(default) is not null);
        Assert.Null(signer.Refusal);
        await _log.AddAsync(1);
        Assert.Equal(RootOf(10 + since), (await signer.SealOnceAsync(default))!.Root);
    }

    [Fact]
    public async Task A_memory_behind_the_newest_checkpoint_is_taken_up_with_nothing_new_to_seal()
    {
        await _log.AddAsync(300);
        await _log.Signer().SealOnceAsync(default);
        var older = await File.ReadAllBytesAsync(_log.Options.StateFile);
        await _log.AddAsync(300);
        await SealAndLoseTheRenameAsync(older);
        File.Delete(Next);

        var signer = _log.Signer();
        Assert.Null(await signer.SealOnceAsync(default));
        Assert.Null(await signer.SealOnceAsync(default));
        Assert.Contains("\"size\": 600", await File.ReadAllTextAsync(_log.Options.StateFile), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("update trace.log_leaf set hash = decode(repeat('ab', 32), 'hex') where index = 3", "not those that were signed")]
    [InlineData("delete from trace.log_leaf where index >= 6", "shrank")]
    [InlineData("update trace.checkpoint set note = replace(note, '9', '8')", "did not sign")]
    public async Task Neither_an_empty_memory_nor_a_leftover_makes_the_signer_sign_what_contradicts_the_log(string change, string why)
    {
        await _log.Signer().SealOnceAsync(default);
        var empty = await File.ReadAllBytesAsync(_log.Options.StateFile);
        await _log.AddAsync(9);
        await _log.Signer().SealOnceAsync(default);
        var newest = await File.ReadAllBytesAsync(_log.Options.StateFile);
        await _log.RunAsync(change);

        await File.WriteAllBytesAsync(_log.Options.StateFile, empty);
        Assert.Contains(why, (await RefusesAsync(_log.Signer())).Message, StringComparison.Ordinal);

        await File.WriteAllBytesAsync(Next, newest);
        Assert.Contains(why, (await RefusesAsync(_log.Signer())).Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_leftover_that_the_database_lost_since_is_remembered_all_the_same()
    {
        await _log.AddAsync(9);
        await _log.Signer().SealOnceAsync(default);
        var older = await File.ReadAllBytesAsync(_log.Options.StateFile);
        await _log.AddAsync(9);
        await SealAndLoseTheRenameAsync(older);
        await _log.RunAsync("delete from trace.log_leaf where index >= 9; delete from trace.checkpoint where size > 9");

        Assert.Contains("The log shrank: 18 leaves were signed", (await RefusesAsync(_log.Signer())).Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_leftover_that_was_cut_off_is_passed_over()
    {
        await _log.AddAsync(9);
        await _log.Signer().SealOnceAsync(default);
        await File.WriteAllTextAsync(Next, "{\"origin\": \"plant.exa");
        await _log.AddAsync(1);

        Assert.Equal(RootOf(10), (await _log.Signer().SealOnceAsync(default))!.Root);
        Assert.False(File.Exists(Next));
    }

    [Fact]
    public async Task A_power_cut_after_a_new_origin_that_takes_back_the_rename_leads_into_no_dead_end()
    {
        await _log.AddAsync(10);
        await _log.Signer().SealOnceAsync(default);
        // The state as the first of the two writes of the call leaves it.
        var file = JsonSerializer.Deserialize<SignerState>(await File.ReadAllBytesAsync(_log.Options.StateFile), JsonSerializerOptions.Web)!;
        var started = SignerState.Start("plant.example/records-2", _log.Signer().Key, [new EndedLog(file.Origin, file.Size, file.Root, file.Note)]);
        await _log.Signer().StartNewOriginAsync("plant.example/records-2", default);
        started.Write(_log.Options.StateFile);

        Assert.Equal(12, (await _log.Signer().StartNewOriginAsync("plant.example/records-3", default))!.Size);
        Assert.Equal(2, JsonDocument.Parse(await File.ReadAllTextAsync(_log.Options.StateFile)).RootElement.GetProperty("ended").GetArrayLength());

        started.Write(_log.Options.StateFile);
        await _log.RunAsync("delete from trace.checkpoint where origin = 'plant.example/records-3'; delete from trace.log_origin where origin = 'plant.example/records-3'");
        await _log.RunAsync("delete from trace.log_leaf where index = 0; update trace.log_leaf set index = index - 1; delete from trace.log_tile");
        await _log.AddAsync(1);
        Assert.Equal(("plant.example/records-2", 12), (await _log.Signer().SealOnceAsync(default)) is { } s ? (s.Origin, s.Size) : default);
    }

    [Fact]
    public async Task A_lost_memory_is_refused_under_another_name_too()
    {
        await _log.AddAsync(3);
        await _log.Signer().SealOnceAsync(default);
        File.Delete(_log.Options.StateFile);
        var renamed = new LogSigner(_log.Source, _log.Options with { Origin = "plant.example/another" }, TimeProvider.System, Microsoft.Extensions.Logging.Abstractions.NullLogger<LogSigner>.Instance);

        Assert.Contains("is missing", (await RefusesAsync(renamed)).Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Tiles_that_do_not_agree_with_the_leaves_are_made_again_at_the_next_start()
    {
        await _log.AddAsync(600);
        var signed = (await _log.Signer().SealOnceAsync(default))!;
        await _log.RunAsync("update trace.log_tile set hashes = overlay(hashes placing decode(repeat('ab', 32), 'hex') from 33)");
        await Assert.ThrowsAsync<LogContradictionException>(() => _log.Reader.ProveAsync([LogDatabase.RecordId(0)], signed, default));

        await _log.Signer().SealOnceAsync(default);

        Assert.Single(await _log.Reader.ProveAsync([LogDatabase.RecordId(0)], signed, default));
    }

    [Fact]
    public async Task Two_signers_at_once_do_not_sign_two_histories()
    {
        await _log.AddAsync(50);

        var results = await Task.WhenAll(Enumerable.Range(0, 4).Select(_ => _log.Signer()).Select(s => s.SealOnceAsync(default)));

        Assert.Single(results, r => r is not null);
        Assert.Equal(1, await _log.AskAsync<long>("select count(*) from trace.checkpoint"));
    }

    [Fact]
    public async Task After_a_restore_that_lost_leaves_a_new_origin_names_the_old_checkpoint_in_its_first_leaf()
    {
        await _log.AddAsync(300);
        var old = (await _log.Signer().SealOnceAsync(default))!;
        await _log.RunAsync("delete from trace.log_leaf where index >= 290; delete from trace.record where position > 290");
        await RefusesAsync(_log.Signer());

        var signer = _log.Signer();
        var fresh = (await signer.StartNewOriginAsync("plant.example/records-2", default))!;

        Assert.Equal(("plant.example/records-2", 291), (fresh.Origin, fresh.Size));
        var first = await _log.AskAsync<byte[]>("select first_leaf from trace.log_origin where origin = 'plant.example/records-2'");
        Assert.Equal(first, CanonicalJson.Canonicalize(first));
        using var named = JsonDocument.Parse(first);
        Assert.Equal(old.Note, named.RootElement.GetProperty("continues").GetProperty("note").GetString());
        Assert.Equal(
            Merkle.Root(Enumerable.Range(0, 290).Select(i => LogDatabase.LeafHash(i)).Prepend(Merkle.LeafHash(first))), fresh.Root);
        Assert.Equal(300 - 10, await _log.AskAsync<long>("select count(*) from trace.log_leaf_superseded where origin = 'plant.example/records'"));

        await _log.AddAsync(3);
        Assert.Equal(294, (await signer.SealOnceAsync(default))!.Size);
        Assert.Equal("plant.example/records-2", _log.Signer().Origin);
        Assert.Equal(294, (await _log.Reader.LatestAsync(default))!.Size);
        await Assert.ThrowsAsync<ArgumentException>(() => signer.StartNewOriginAsync("plant.example/records", default));
    }

    [Fact]
    public async Task A_new_origin_interrupted_before_the_signers_file_was_written_can_be_started_again()
    {
        await _log.AddAsync(30);
        await _log.Signer().SealOnceAsync(default);
        var before = await File.ReadAllBytesAsync(_log.Options.StateFile);
        await _log.RunAsync("delete from trace.log_leaf where index >= 20; delete from trace.record where position > 20");
        await _log.Signer().StartNewOriginAsync("plant.example/records-2", default);
        await File.WriteAllBytesAsync(_log.Options.StateFile, before);
        await _log.RunAsync("delete from trace.checkpoint where origin = 'plant.example/records-2'");
        await RefusesAsync(_log.Signer());

        Assert.Equal(21, (await _log.Signer().StartNewOriginAsync("plant.example/records-2", default))!.Size);
    }

    [Fact]
    public async Task Every_leaf_is_proved_at_every_size_up_to_600()
    {
        var signer = _log.Signer();
        var ids = new List<Guid>();
        for (var size = 1; size <= 600; size++)
        {
            await _log.AddAsync(1);
            ids.Add(LogDatabase.RecordId(size - 1));
            var checkpoint = (await signer.SealOnceAsync(default))!;
            var proofs = await _log.Reader.ProveAsync(ids, checkpoint, default);
            Assert.All(proofs, p => Assert.True(Merkle.VerifyInclusion(p.Index, size, LogDatabase.LeafHash(p.Index), p.Path, checkpoint.Root)));
            Assert.Equal(size, proofs.Count);
        }

        // And with all leaves there, at sizes sealed long before.
        foreach (var size in new[] { 1, 2, 255, 256, 257, 300, 511, 512, 513, 599 })
        {
            var checkpoint = (await _log.Reader.AtAsync(size, default))!;
            Assert.Equal(size, (await _log.Reader.ProveAsync(ids[..size], checkpoint, default)).Count);
            var proof = (await _log.Reader.ConsistencyAsync(size, 600, default))!;
            Assert.True(Merkle.VerifyConsistency(size, 600, checkpoint.Root, proof.Newer.Root, proof.Hashes));
        }
    }

    [Fact]
    public async Task Levels_above_the_second_grow_as_leaves_come_in_pages()
    {
        var signer = _log.Signer();
        await _log.AddAsync(65_000);
        await signer.SealOnceAsync(default);
        await _log.AddAsync(1_400);
        var checkpoint = (await signer.SealOnceAsync(default))!;

        Assert.Equal(RootOf(66_400), checkpoint.Root);
        Assert.Equal(32, await _log.AskAsync<int>("select octet_length(hashes) from trace.log_tile where level = 2"));
        var ids = Enumerable.Range(0, 120).Select(i => LogDatabase.RecordId(i * 553)).ToArray();
        Assert.Equal(120, (await _log.Reader.ProveAsync(ids, checkpoint, default)).Count);
        Assert.Null(await _log.Signer().SealOnceAsync(default));
    }

    [Fact]
    public async Task A_record_without_a_sealed_leaf_is_named_instead_of_proved()
    {
        await _log.AddAsync(3);
        var checkpoint = (await _log.Signer().SealOnceAsync(default))!;
        await _log.AddAsync(1);

        var unsealed = await Assert.ThrowsAsync<KeyNotFoundException>(
            () => _log.Reader.ProveAsync([LogDatabase.RecordId(0), LogDatabase.RecordId(3)], checkpoint, default));

        Assert.Contains(LogDatabase.RecordId(3).ToString(), unsealed.Message, StringComparison.Ordinal);
        Assert.Equal(3, await _log.Reader.IndexOfAsync(LogDatabase.RecordId(3), default));
        Assert.Null(await _log.Reader.IndexOfAsync(Guid.NewGuid(), default));
        Assert.Null(await _log.Reader.ConsistencyAsync(2, 3, default));
    }

    [Fact]
    public async Task The_signers_own_file_says_what_was_signed()
    {
        await _log.AddAsync(3);
        var checkpoint = (await _log.Signer().SealOnceAsync(default))!;

        using var file = JsonDocument.Parse(await File.ReadAllTextAsync(_log.Options.StateFile, Encoding.UTF8));
        Assert.Equal(3, file.RootElement.GetProperty("size").GetInt64());
        Assert.Equal(Convert.ToHexStringLower(checkpoint.Root), file.RootElement.GetProperty("root").GetString());
        Assert.Equal(2, file.RootElement.GetProperty("edge").GetArrayLength());
    }
}
