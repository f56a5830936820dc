using System.Diagnostics;
using System.Globalization;
using System.Net;
using System.Net.Sockets;
using System.Text;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting.Server;
using Microsoft.AspNetCore.Hosting.Server.Features;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;
using Traceability.Service.Log;
using Traceability.Verifier;
using Traceability.Verifier.Witness;
using Witness = Traceability.Service.Log.Witness;

namespace Traceability.Service.Tests.Log;

/// <summary>
/// The service and a witness, each of its own code, speak C2SP tlog-witness 1.0 and tlog-cosignature 1.0 (published) with each other over
/// loopback; the answers are held against the text of those documents, a signature against openssl.
/// </summary>
public sealed class WitnessTests : IAsyncLifetime
{
    private static readonly DateTimeOffset s_now = new(2026, 6, 1, 12, 0, 0, TimeSpan.Zero);

    private readonly LogDatabase _log = new();
    private readonly string _folder = Directory.CreateTempSubdirectory("witness-").FullName;
    private readonly FakeTimeProvider _clock = new(s_now);
    private readonly CancellationTokenSource _stop = new();
    private readonly HttpClient _http = new();
    private readonly List<Task> _serving = [];

    private string Dir => Path.Combine(_folder, "witness");

    public async Task InitializeAsync()
    {
        await _log.InitializeAsync();
        Assert.Equal(0, Say("new", Dir, "--name", "agency.example/witness").Exit);
    }

    public async Task DisposeAsync()
    {
        await _stop.CancelAsync();
        await Task.WhenAll(_serving);
        await _log.DisposeAsync();
        Directory.Delete(_folder, recursive: true);
        _http.Dispose();
        _stop.Dispose();
    }

    private (int Exit, string Said) Say(params string[] words)
    {
        using var said = new StringWriter();
        return (WitnessCommand.Run(words, said, said, _clock, CancellationToken.None), said.ToString());
    }

    private string KeyLine => File.ReadAllText(Path.Combine(Dir, "witness.key-line")).Trim();

    /// <summary>Watches our log and serves; answers where.</summary>
    private async Task<string> ServeAsync(LogSigner signer)
    {
        Assert.Equal(0, Say("watch", Dir, signer.Key.VerifierKey(signer.Origin)).Exit);
        using (var free = new TcpListener(IPAddress.Loopback, 0))
        {
            free.Start();
            var url = $"http://127.0.0.1:{((IPEndPoint)free.LocalEndpoint).Port}/";
            free.Stop();
            _serving.Add(Task.Run(() => WitnessCommand.Run(["serve", Dir, "--listen", url], TextWriter.Null, TextWriter.Null, _clock, _stop.Token)));
            // It answers as soon as it listens: nothing is known of any log yet.
            for (var i = 0; ; i++)
            {
                try
                {
                    Assert.Equal(HttpStatusCode.NotFound, (await _http.GetAsync(new Uri(url))).StatusCode);
                    break;
                }
                catch (HttpRequestException) when (i < 200)
                {
                    await Task.Delay(25);
                }
            }

            return url;
        }
    }

    private Cosigning Cosigning(string? url) =>
        new(new Witnesses([Witness.Read(KeyLine, url)]), Store(url), _log.Reader, NullLogger<Cosigning>.Instance);

    private CosignatureStore Store(string? url = null) => new(_log.Source, new Witnesses([Witness.Read(KeyLine, url)]), _clock);

    private async Task<(int Status, string? Type, string Body)> PostAsync(string url, string body)
    {
        using var content = new StringContent(body);
        using var answer = await _http.PostAsync(new Uri(url + "add-checkpoint"), content);
        return ((int)answer.StatusCode, answer.Content.Headers.ContentType?.MediaType, await answer.Content.ReadAsStringAsync());
    }

    [Fact]
    public void What_a_request_says_of_itself_reaches_no_terminal_as_commands_to_it()
    {
        var key = LogKey.Create();
        Assert.Equal(0, Say("watch", Dir, key.VerifierKey("plant.example/log")).Exit);
        var request = Path.Combine(_folder, "request");
        File.WriteAllText(request, "old 0\n\n" + new Checkpoint("plant.example/log", 0, Merkle.EmptyRoot).Sign(key).Replace("\u2014 plant.example/log", "\u2014 x\u202e", StringComparison.Ordinal));
        var (exit, said) = Say("cosign", Dir, request);

        Assert.Equal(1, exit);
        Assert.Contains("x\\u202e", said, StringComparison.Ordinal);
        Assert.DoesNotContain('\u202e', said);
    }

    [Fact]
    public async Task A_witness_cosigns_a_log_that_grows_and_openssl_agrees_with_the_signature()
    {
        var signer = _log.Signer();
        await _log.AddAsync(9);
        var first = (await signer.SealOnceAsync(default))!;
        using var cosigning = Cosigning(await ServeAsync(signer));

        Assert.Equal(WitnessState.Cosigned, (await cosigning.AskAsync(first, default))[0].State);
        await _log.AddAsync(600);
        var second = (await signer.SealOnceAsync(default))!;
        Assert.Equal(WitnessState.Cosigned, (await cosigning.AskAsync(second, default))[0].State);

        var note = await Store().NoteAsync(second, default);
        var lines = note.Split('\n');
        Assert.StartsWith("— plant.example/records ", lines[4], StringComparison.Ordinal);
        Assert.StartsWith("— agency.example/witness ", lines[5], StringComparison.Ordinal);

        // The message by the text of tlog-cosignature, "Ed25519 signed message"; the signature checked by openssl.
        var cosignature = Convert.FromBase64String(lines[5].Split(' ')[2]);
        await File.WriteAllTextAsync(Path.Combine(_folder, "message"), $"cosignature/v1\ntime {s_now.ToUnixTimeSeconds()}\n{string.Join('\n', lines[..3])}\n");
        await File.WriteAllBytesAsync(Path.Combine(_folder, "signature"), cosignature[12..]);
        var spki = Convert.ToBase64String([.. Convert.FromHexString("302a300506032b6570032100"), .. Convert.FromBase64String(KeyLine.Split('+', 3)[2])[1..]]);
        await File.WriteAllTextAsync(Path.Combine(_folder, "key.pem"), $"-----BEGIN PUBLIC KEY-----\n{spki}\n-----END PUBLIC KEY-----\n");
        using var openssl = Process.Start(new ProcessStartInfo("openssl", ["pkeyutl", "-verify", "-pubin", "-inkey", "key.pem", "-rawin", "-in", "message", "-sigfile", "signature"])
        { WorkingDirectory = _folder, RedirectStandardOutput = true, RedirectStandardError = true })!;
        await openssl.WaitForExitAsync();
        Assert.True(openssl.ExitCode == 0, await openssl.StandardOutput.ReadToEndAsync() + await openssl.StandardError.ReadToEndAsync());
    }

    [Fact]
    public async Task A_witness_answers_each_wrong_request_as_the_protocol_says_and_cosigns_none()
    {
        var signer = _log.Signer();
        await _log.AddAsync(9);
        var first = (await signer.SealOnceAsync(default))!;
        var url = await ServeAsync(signer);
        using var cosigning = Cosigning(url);
        await cosigning.AskAsync(first, default);
        await _log.AddAsync(5);
        var second = (await signer.SealOnceAsync(default))!;
        var good = await cosigning.RequestAsync(9, second, default);
        var stranger = LogKey.Create();
        var forged = new Checkpoint(second.Origin, second.Size, second.Root).Sign(stranger);
        var fork = new Checkpoint(second.Origin, 9, Merkle.EmptyRoot).Sign(signer.Key);

        Assert.Equal(400, (await PostAsync(url, "")).Status);
        Assert.Equal(400, (await PostAsync(url, good.Replace("old 9\n", "old 09\n", StringComparison.Ordinal))).Status);
        Assert.Equal(400, (await PostAsync(url, good.Replace("old 9\n", "old 15\n", StringComparison.Ordinal))).Status);
        Assert.Equal(400, (await PostAsync(url, good.Replace("old 9\n", "old 9\n" + string.Concat(Enumerable.Repeat(Convert.ToBase64String(new byte[32]) + "\n", 64)), StringComparison.Ordinal))).Status);
        Assert.Equal(404, (await PostAsync(url, "old 0\n\n" + new Checkpoint("other.example/log", 3, Merkle.EmptyRoot).Sign(stranger))).Status);
        Assert.Equal(403, (await PostAsync(url, "old 9\n\n" + forged)).Status);
        Assert.Equal((409, "text/x.tlog.size", "9\n"), await PostAsync(url, good.Replace("old 9\n", "old 0\n", StringComparison.Ordinal)));
        Assert.Equal(422, (await PostAsync(url, good.Replace("old 9\n", $"old 9\n{Convert.ToBase64String(new byte[32])}\n", StringComparison.Ordinal))).Status);
        Assert.Equal(422, (await PostAsync(url, "old 9\n\n" + fork)).Status);
        Assert.Equal(413, (await PostAsync(url, new string('x', 100_000))).Status);
        Assert.Contains(Directory.EnumerateFiles(Dir, "contradiction-*", SearchOption.AllDirectories), f => File.ReadAllText(f) == fork);

        Assert.Contains("9 records", await ShownAsync(url), StringComparison.Ordinal);
        Assert.Equal(200, (await PostAsync(url, good)).Status);
        Assert.Contains("14 records", await ShownAsync(url), StringComparison.Ordinal);

        async Task<string> ShownAsync(string at)
        {
            var note = await Cosigning(at).ShownByAsync(Witness.Read(KeyLine, at), first.Origin, default);
            return note!.Split('\n')[1] + " records";
        }
    }

    [Fact]
    public async Task A_witness_behind_a_wall_fetches_the_tiles_and_brings_its_cosignature_back()
    {
        var signer = _log.Signer();
        await _log.AddAsync(700);
        await signer.SealOnceAsync(default);
        var builder = WebApplication.CreateSlimBuilder();
        builder.Logging.ClearProviders();
        builder.Services.AddProblemDetails().AddSingleton(_log.Reader).AddSingleton(Store());
        await using var app = builder.Build();
        app.Urls.Add("http://127.0.0.1:0");
        app.MapTiles(_ => { }, _ => { });
        await app.StartAsync();
        var url = app.Services.GetRequiredService<IServer>().Features.Get<IServerAddressesFeature>()!.Addresses.First() + "/log";
        Assert.Equal(0, Say("watch", Dir, signer.Key.VerifierKey(signer.Origin), "--url", url).Exit);

        foreach (var more in new[] { 0, 1, 68, 255, 1024 })
        {
            if (more > 0)
            {
                await _log.AddAsync(more);
                await signer.SealOnceAsync(default);
            }

            var (exit, said) = Say("poll", Dir);
            Assert.True(exit == 0, said);
            var latest = (await _log.Reader.LatestAsync(default))!;
            Assert.Contains($"cosigned at {latest.Size} records", said, StringComparison.Ordinal);
            Assert.Contains("— agency.example/witness ", await _http.GetStringAsync(new Uri(url + "/checkpoint")), StringComparison.Ordinal);
        }

        // What is no cosignature of a witness in the settings is not kept.
        var newest = (await _log.Reader.LatestAsync(default))!;
        using var strange = new StringContent(newest.Note);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, (await _http.PostAsync(new Uri(url + "/cosignatures"), strange)).StatusCode);
        using var foreign = new StringContent(new Checkpoint(newest.Origin, newest.Size, Merkle.EmptyRoot).Sign(signer.Key));
        Assert.Equal(HttpStatusCode.NotFound, (await _http.PostAsync(new Uri(url + "/cosignatures"), foreign)).StatusCode);
    }

    [Fact]
    public async Task A_witness_without_a_connection_works_with_files()
    {
        var signer = _log.Signer();
        Assert.Equal(0, Say("watch", Dir, signer.Key.VerifierKey(signer.Origin)).Exit);
        using var cosigning = Cosigning(null);
        var from = 0L;
        foreach (var more in new[] { 5, 400 })
        {
            await _log.AddAsync(more);
            var checkpoint = (await signer.SealOnceAsync(default))!;
            var file = Path.Combine(_folder, "request.txt");
            await File.WriteAllTextAsync(file, await cosigning.RequestAsync(from, checkpoint, default));

            var (exit, lines) = Say("cosign", Dir, file);

            Assert.True(exit == 0, lines);
            Assert.Equal(1, await Store().TakeAsync(checkpoint.Note[..(checkpoint.Note.IndexOf("\n\n", StringComparison.Ordinal) + 2)] + lines, default));
            from = checkpoint.Size;
        }

        var (refused, why) = Say("cosign", Dir, await RequestFileAsync(0));
        Assert.Equal(1, refused);
        Assert.Contains("--from 405", why, StringComparison.Ordinal);
        Assert.Contains("405 records", Say("show", Dir).Said, StringComparison.Ordinal);

        async Task<string> RequestFileAsync(long at)
        {
            var file = Path.Combine(_folder, "again.txt");
            await File.WriteAllTextAsync(file, await cosigning.RequestAsync(at, (await _log.Reader.LatestAsync(default))!, default));
            return file;
        }
    }

    [Theory]
    [InlineData("witness")]
    [InlineData("file")]
    public async Task Database_and_signer_restored_together_from_a_backup_are_noticed_before_anything_is_signed(string source)
    {
        var options = _log.Options with { MemoryFile = source == "file" ? Path.Combine(_folder, "memory.txt") : null };
        var first = _log.Signer();
        await _log.AddAsync(10);
        await first.SealOnceAsync(default);
        var url = source == "witness" ? await ServeAsync(first) : null;
        using var cosigning = Cosigning(url);
        var outside = new OutsideMemory(new Witnesses([Witness.Read(KeyLine, url)]), cosigning, options, NullLogger<OutsideMemory>.Instance);
        var backup = await File.ReadAllBytesAsync(options.StateFile);
        await _log.AddAsync(7);
        var shown = (await first.SealOnceAsync(default))!;
        await cosigning.AskAsync(shown, default);
        await outside.KeepAsync(shown, default);

        // The whole machine as it was at ten records.
        await _log.RunAsync("delete from trace.checkpoint where size > 10; delete from trace.log_leaf where index >= 10; delete from trace.record where position > 10; delete from trace.log_tile");
        await File.WriteAllBytesAsync(options.StateFile, backup);

        LogSigner Restarted() => new(_log.Source, options, TimeProvider.System, NullLogger<LogSigner>.Instance, outside);
        var behind = await Assert.ThrowsAsync<LogContradictionException>(() => Restarted().SealOnceAsync(default));
        Assert.Contains("17 leaves", behind.Message, StringComparison.Ordinal);

        // And when other records took the place of those that were lost.
        await _log.AddAsync(2);
        await _log.RunAsync("update trace.record set bytes = '\\x00' where position = 12; update trace.log_leaf set hash = sha256('\\x0000') where index = 11");
        await _log.AddAsync(8);
        var fork = await Assert.ThrowsAsync<LogContradictionException>(() => Restarted().SealOnceAsync(default));
        Assert.Contains("Two histories: at 17 leaves", fork.Message, StringComparison.Ordinal);
        Assert.Equal(10, (await _log.Reader.LatestAsync(default))!.Size);
    }

    [Fact]
    public async Task A_log_that_did_not_go_back_starts_again_under_the_eyes_of_its_witness()
    {
        var first = _log.Signer();
        await _log.AddAsync(10);
        var shown = (await first.SealOnceAsync(default))!;
        var url = await ServeAsync(first);
        using var cosigning = Cosigning(url);
        await cosigning.AskAsync(shown, default);
        await _log.AddAsync(3);
        var outside = new OutsideMemory(new Witnesses([Witness.Read(KeyLine, url)]), cosigning, _log.Options, NullLogger<OutsideMemory>.Instance);

        var next = await new LogSigner(_log.Source, _log.Options, TimeProvider.System, NullLogger<LogSigner>.Instance, outside).SealOnceAsync(default);

        Assert.Equal(13, next!.Size);
        Assert.Empty(outside.Unasked);
    }

    [Fact]
    public async Task A_witness_that_is_away_does_not_stop_the_signer_and_is_named()
    {
        await _log.AddAsync(4);
        using var cosigning = Cosigning("http://127.0.0.1:9/");
        var outside = new OutsideMemory(new Witnesses([Witness.Read(KeyLine, "http://127.0.0.1:9/")]), cosigning, _log.Options, NullLogger<OutsideMemory>.Instance);

        var sealedNow = await new LogSigner(_log.Source, _log.Options, TimeProvider.System, NullLogger<LogSigner>.Instance, outside).SealOnceAsync(default);

        Assert.Equal(4, sealedNow!.Size);
        Assert.Equal(["agency.example/witness"], outside.Unasked);
        Assert.Equal(WitnessState.Away, (await cosigning.AskAsync(sealedNow, default))[0].State);
    }

    [Fact]
    public void A_folder_holds_one_witness_and_a_log_is_watched_under_one_key()
    {
        Assert.Contains("already holds a witness", Say("new", Dir, "--name", "x").Said, StringComparison.Ordinal);
        var (one, other) = (LogKey.Create(), LogKey.Create());
        Assert.Equal(0, Say("watch", Dir, one.VerifierKey("plant.example/log")).Exit);
        var (exit, said) = Say("watch", Dir, other.VerifierKey("plant.example/log"));
        Assert.Equal(Command.Usage, exit);
        Assert.Contains("watched under another key", said, StringComparison.Ordinal);
        Assert.Contains("name+hash+base64", Say("watch", Dir, "nonsense").Said, StringComparison.Ordinal);
    }

    [Fact]
    public async Task An_old_key_signs_for_its_successor_and_is_put_aside()
    {
        var signer = _log.Signer();
        await _log.AddAsync(6);
        await signer.SealOnceAsync(default);
        var old = signer.Key.PublicKey;

        var next = (await signer.StartNewOriginAsync("plant.example/records-2", default, KeyChange.Succeed))!;

        Assert.Equal(7, next.Size);
        Assert.NotEqual(old, signer.Key.PublicKey);
        Assert.NotNull(Checkpoint.Open(next.Note, signer.Key.PublicKey));
        var statement = await _log.Reader.SuccessionsAsync(default);
        Assert.NotNull(SignedNote.Open(statement, "plant.example/records", old));
        Assert.Contains($"\nplant.example/records-2\n{signer.Key.VerifierKey("plant.example/records-2")}\n", statement, StringComparison.Ordinal);

        // A newly started process has the new key, and the old one lies beside it.
        await _log.AddAsync(1);
        var restarted = _log.Signer();
        Assert.Equal(8, (await restarted.SealOnceAsync(default))!.Size);
        Assert.Equal(signer.Key.PublicKey, restarted.Key.PublicKey);
        Assert.Equal(old, LogKey.Load(Path.ChangeExtension(_log.Options.KeyFile, ".ended-1.pem")).PublicKey);
    }

    [Fact]
    public async Task A_stop_in_the_middle_of_a_change_of_keys_is_finished_at_the_next_start()
    {
        var signer = _log.Signer();
        await _log.AddAsync(6);
        await signer.SealOnceAsync(default);
        var old = await File.ReadAllTextAsync(_log.Options.KeyFile);
        await signer.StartNewOriginAsync("plant.example/records-2", default, KeyChange.Succeed);

        // As it lies when the state was written and the files were not moved yet.
        File.Move(_log.Options.KeyFile, Path.ChangeExtension(_log.Options.KeyFile, ".next.pem"));
        File.Move(LogKey.PublicFile(_log.Options.KeyFile), LogKey.PublicFile(Path.ChangeExtension(_log.Options.KeyFile, ".next.pem")));
        File.Move(Path.ChangeExtension(_log.Options.KeyFile, ".ended-1.pem"), _log.Options.KeyFile);
        File.Move(LogKey.PublicFile(Path.ChangeExtension(_log.Options.KeyFile, ".ended-1.pem")), LogKey.PublicFile(_log.Options.KeyFile));
        Assert.Equal(old, await File.ReadAllTextAsync(_log.Options.KeyFile));

        await _log.AddAsync(2);
        var restarted = _log.Signer();
        Assert.Equal(9, (await restarted.SealOnceAsync(default))!.Size);
        Assert.Equal(signer.Key.PublicKey, restarted.Key.PublicKey);
    }

    [Fact]
    public async Task A_lost_key_signs_for_nothing_and_the_new_log_says_so_in_its_first_leaf()
    {
        var signer = _log.Signer();
        await _log.AddAsync(6);
        await signer.SealOnceAsync(default);
        await Assert.ThrowsAsync<ArgumentException>(() => signer.StartNewOriginAsync("plant.example/records-2", default, KeyChange.Lost));
        File.Delete(_log.Options.KeyFile);

        await Assert.ThrowsAsync<LogContradictionException>(() => _log.Signer().StartNewOriginAsync("plant.example/records-2", default, KeyChange.Succeed));
        var next = await _log.Signer().StartNewOriginAsync("plant.example/records-2", default, KeyChange.Lost);

        Assert.Equal(7, next!.Size);
        Assert.Equal("", await _log.Reader.SuccessionsAsync(default));
        Assert.Contains("\"keyLost\":true", Encoding.UTF8.GetString(await _log.AskAsync<byte[]>("select first_leaf from trace.log_origin where first_leaf is not null")), StringComparison.Ordinal);
    }
}
